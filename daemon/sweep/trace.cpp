#include "daemon/sweep/trace.hpp"

#include <algorithm>
#include <cmath>

namespace midstick::sweep {
namespace {

constexpr double kLongestLagMs = 400, kLagStepMs = 0.5;

}  // namespace

Slow::Slow(const std::vector<CurvePoint>& points) {
  for (const CurvePoint& p : points) (p.up ? up_ : down_).push_back({p.in, p.out.us});
  for (auto* way : {&up_, &down_}) std::ranges::stable_sort(*way, {}, &At::in);
}

double Slow::at(double in, bool up) const {
  const auto& way = up ? up_ : down_;
  if (way.empty()) return 0;
  const auto after = std::ranges::lower_bound(way, in, {}, &At::in);
  if (after == way.begin()) return way.front().out;
  if (after == way.end()) return way.back().out;
  const auto before = std::prev(after);
  return before->out + (after->out - before->out) * (in - before->in) / std::max(1e-9, after->in - before->in);
}

std::optional<FastMap> follow(const Slow& slow, const std::vector<Moving>& pulses, const std::function<double(double ms)>& stick, bool up) {
  if (pulses.size() < 10) return std::nullopt;
  double least = 1e300;
  FastMap best;
  for (double lag = 0; lag <= kLongestLagMs; lag += kLagStepMs) {
    double squares = 0, largest = 0;
    for (const Moving& m : pulses) {
      const double off = std::abs(m.us - slow.at(stick(m.ms - lag), up));
      squares += off * off, largest = std::max(largest, off);
    }
    if (squares < least) least = squares, best = {lag, largest};
  }
  return best;
}

}  // namespace midstick::sweep
