#include "daemon/judge/mix_error.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <optional>
#include <utility>

#include "daemon/judge/departures.hpp"
#include "daemon/judge/sticks.hpp"
#include "daemon/judge/text.hpp"
#include "daemon/judge/uncertainty.hpp"
#include "daemon/statistics/summary.hpp"

namespace midstick::judge {
namespace {

constexpr std::size_t kCausesShown = 3;
constexpr double kEnough = 0.7;  // a departure that leaves more than the rest of the wrong readings wrong is no explanation

/// What is left of the readings' errors when they are judged by a departure.
struct Remainder {
  double worst{0}, square{0};
  std::int64_t wrong{0}, readings{0};
};

Remainder remainder_of(const Departure& d, const std::vector<Reading>& readings, double input_us, double tolerance_us) {
  Remainder left;
  for (Reading r : readings) {
    if (d.sides_swapped) std::swap(r.side[0], r.side[1]);
    if (d.sticks_swapped) std::swap(r.hold.throttle_us, r.hold.steering_us);
    for (const Side s : kSides) {
      const double e = std::abs(error_us(d.spec, r, s, input_us));
      left.worst = std::max(left.worst, e), left.square += e * e;
      left.wrong += e > tolerance_us;
      ++left.readings;
    }
  }
  return left;
}

}  // namespace

std::vector<Reading> readings(const Context& c, const std::vector<Traffic>& all, std::size_t needed) {
  std::vector<Reading> found;
  for (const Traffic& t : all) {
    const auto stretches = holds(t, still_us(c.plan, c.check));
    const auto slewing = slewing_ms(c, t, stretches);
    for (std::size_t i = 0; i < stretches.size(); ++i) {
      const Hold& h = stretches[i];
      const double settle = param(c.check, "settle_ms") + slewing[i];
      Reading r{h, &t, {}};
      bool enough = true;
      for (const Side s : kSides) {
        const Widths w = widths_of(t, t.output(s).within(h.begin + t.ticks_ms(settle), h.end));
        enough = enough && w.us.size() >= needed;
        const statistics::Summary sum = statistics::summarise(w.us);
        r.side[static_cast<int>(s)] = {sum.mean, mean_uncertainty(sum.sd, sum.samples, w.uncertainty), sum.samples};
      }
      if (enough) found.push_back(r);
    }
  }
  return found;
}

mixer::Interval asked(const mixer::MixerSpec& spec, const Reading& r, Side s, double input_us) {
  const auto range = mixer::expected_within(spec, r.hold.throttle_us, r.hold.steering_us, input_us + r.hold.half_us);
  return s == Side::left ? range.left : range.right;
}

double error_us(const mixer::MixerSpec& spec, const Reading& r, Side s, double input_us) {
  const mixer::Interval want = asked(spec, r, s, input_us);
  const double us = r.at(s).mean_us;
  return us > want.high ? us - want.high : us < want.low ? us - want.low : 0;
}

std::string consistent_with(const mixer::MixerSpec& spec, const std::vector<Reading>& readings, double input_us, double tolerance_us) {
  double best = tolerance_us;
  std::string found;
  for (const Departure& d : departures(spec)) {
    const double w = remainder_of(d, readings, input_us, tolerance_us).worst;
    if (w <= best && (found.empty() || w < best)) best = w, found = d.text;
  }
  return found;
}

std::vector<Cause> causes_of(const mixer::MixerSpec& spec, const std::vector<Reading>& readings, double input_us, double tolerance_us) {
  const Remainder before = remainder_of({"", "", spec}, readings, input_us, tolerance_us);
  if (before.wrong == 0) return {};
  std::map<std::string, Cause> best;
  for (const Departure& d : departures(spec)) {
    const Remainder after = remainder_of(d, readings, input_us, tolerance_us);
    const double explained = 1 - static_cast<double>(after.wrong) / static_cast<double>(before.wrong);
    if (explained < kEnough) continue;
    const double rms = std::sqrt(after.square / static_cast<double>(after.readings));
    const double fit = 0.95 * explained - 0.15 * std::min(1.0, rms / std::max(1.0, tolerance_us));
    Cause& cause = best[d.cause];
    if (fit <= cause.fit) continue;
    cause = {d.cause, fit,
             "with " + d.text + ", " + std::to_string(before.wrong - after.wrong) + " of " + std::to_string(before.wrong) +
                 " wrong readings are right; the worst of all is then " + num(after.worst) + " us off"};
  }
  std::vector<Cause> causes;
  for (auto& [id, cause] : best) causes.push_back(std::move(cause));
  std::stable_sort(causes.begin(), causes.end(), [](const Cause& x, const Cause& y) { return x.fit > y.fit; });
  if (causes.size() > kCausesShown) causes.resize(kCausesShown);
  return causes;
}

double percent_of(const mixer::InputSpec& in, double width_us) {
  const double off = width_us - in.centre_us;
  const double x = off >= 0 ? off / (in.high_us - in.centre_us) : off / (in.centre_us - in.low_us);
  return (in.reversed ? -x : x) * 100;
}

}  // namespace midstick::judge
