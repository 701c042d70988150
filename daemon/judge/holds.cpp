#include "daemon/judge/holds.hpp"

#include <algorithm>
#include <cmath>
#include <optional>

#include "daemon/mixer/slew.hpp"

namespace midstick::judge {
namespace {

constexpr double kSilenceMs = 60;
constexpr double kSliverMs = 60;

struct Sample {
  BoardTime fall;
  int input;  ///< 0 throttle, 1 steering
  double us;
};

std::vector<Sample> merged(const Traffic& traffic) {
  std::vector<Sample> all;
  for (const Pulse& p : traffic.throttle().all()) all.push_back({p.fall, 0, traffic.us(p)});
  for (const Pulse& p : traffic.steering().all()) all.push_back({p.fall, 1, traffic.us(p)});
  std::sort(all.begin(), all.end(), [](const Sample& a, const Sample& b) { return a.fall < b.fall; });
  return all;
}

/// Widths of one input during the hold that is growing.
struct Rest {
  std::optional<BoardTime> last;
  double low{0}, high{0};

  bool agrees(double us, double still) const { return std::max(high, us) - std::min(low, us) <= still; }
  void restart(const Sample& s) { last = s.fall, low = high = s.us; }
  void grow(const Sample& s) { last = s.fall, low = std::min(low, s.us), high = std::max(high, s.us); }
};

}  // namespace

std::vector<Hold> holds(const Traffic& traffic, double still_us) {
  const BoardSpan silence = traffic.ticks_ms(kSilenceMs);
  std::vector<Hold> found;
  Rest rest[2];
  std::optional<BoardTime> begin, last;
  const auto close = [&](BoardTime end) {
    if (begin && rest[0].last && rest[1].last && end > *begin)
      found.push_back({*begin, end, (rest[0].low + rest[0].high) / 2, (rest[1].low + rest[1].high) / 2,
                       std::max(rest[0].high - rest[0].low, rest[1].high - rest[1].low) / 2});
    begin.reset();
  };
  for (const Sample& s : merged(traffic)) {
    Rest& mine = rest[s.input];
    Rest& other = rest[1 - s.input];
    const bool fresh = !mine.last || s.fall - *mine.last > silence;
    if (fresh && mine.last) close(*mine.last);
    if (other.last && s.fall - *other.last > silence) {
      if (begin) close(*other.last);
      other.last.reset();
    }
    if (fresh || !mine.agrees(s.us, still_us)) {
      close(s.fall);
      mine.restart(s);
    } else {
      mine.grow(s);
    }
    if (!begin && rest[0].last && rest[1].last) begin = s.fall;
    last = s.fall;
  }
  if (last) close(*last);
  return found;
}

std::vector<double> slewing_ms(const Context& c, const Traffic& traffic, const std::vector<Hold>& holds) {
  const auto& spec = c.plan.spec;
  mixer::Pair from;
  std::vector<double> found;
  for (const Hold& h : holds) {
    const mixer::Pair to{mixer::stick(spec.throttle, h.throttle_us), mixer::stick(spec.steering, h.steering_us)};
    found.push_back(1e3 * (c.check.script ? mixer::longest_slew_seconds(spec) : mixer::settle_seconds(spec, from, to)));
    // Two sticks that move in one frame leave a sliver between them, which no machine has reached.
    if (traffic.ms(h.end - h.begin) > kSliverMs) from = to;
  }
  return found;
}

double still_us(const script::Plan& plan, const script::PlannedCheck& check) {
  const double jitter = check.script ? check.script->frame.jitter_us : plan.frame.jitter_us;
  return 2 * jitter + 1;
}

}  // namespace midstick::judge
