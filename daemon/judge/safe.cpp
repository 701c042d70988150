#include "daemon/judge/safe.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "daemon/mixer/model.hpp"

namespace midstick::judge {
namespace {

constexpr double kLongestPulseMs = 5;
constexpr int kDrivenPulses = 3;
constexpr double kClearlyDrivenUs = 20;

double outside(double x, double low, double high) { return std::max({0.0, low - x, x - high}); }

/// Silence from the last pulse on, or between two pulses, counts from here; nothing while pulses keep coming.
bool overdue(const script::Plan& plan, const Traffic& traffic, BoardTime last_fall, BoardTime now) {
  return traffic.ms(now - last_fall) > 2 * plan.spec.frame.period_high_ms;
}

}  // namespace

SafeWatch watch_safe(const script::Plan& plan, const Traffic& traffic, Side side, BoardTime from, BoardTime until, double last_us,
                     double kick_us) {
  const double neutral = neutral_of(plan, side), half = plan.spec.loss.safe_half_us;
  const bool may_stop = plan.spec.loss.pulses_may_stop;
  const double low = std::min(last_us, neutral - half), high = std::max(last_us, neutral + half);
  SafeWatch w{{}, 1, false, false, 0, 0, Extreme(-half, half), Extreme(-half, half), Extreme({}, kick_us)};
  const PulseTrain& out = traffic.output(side);
  const Pulse* before = out.last_fallen(from);
  BoardTime previous = before ? before->fall : from;
  const auto lose = [&] { w.safe_at.reset(), w.level = Extreme(-half, half); };
  for (const Pulse& p : out.falling_in(from, until)) {
    const double us = traffic.us(p), off = us - neutral;
    ++w.pulses;
    w.off.add(traffic, p, off);
    if (!std::isnan(last_us)) w.kick.add(traffic, p, outside(us, low, high));
    if (overdue(plan, traffic, previous, p.rise) && !may_stop) lose();
    if (std::abs(off) > half + traffic.width_uncertainty(p)) {
      ++w.unsafe;
      lose();
    } else {
      if (!w.safe_at) w.safe_at = p.fall, w.safe_half = p.fall_half;
      w.level.add(traffic, p, off);
    }
    previous = p.fall;
  }
  w.stuck_high = out.high_at(until) && (!out.last_fallen(until) || overdue(plan, traffic, previous, until));
  w.silent = !w.stuck_high && overdue(plan, traffic, previous, until);
  if (w.stuck_high || (w.silent && !may_stop)) lose();
  if (w.silent && may_stop && !w.safe_at) w.safe_at = previous + traffic.ticks_ms(plan.spec.frame.period_high_ms);
  return w;
}

double mean_before(const Traffic& traffic, Side side, BoardTime t, int count) {
  const auto pulses = traffic.output(side).falling_in(traffic.segment().begin, t);
  if (pulses.empty()) return std::numeric_limits<double>::quiet_NaN();
  const auto tail = pulses.last(std::min<std::size_t>(pulses.size(), static_cast<std::size_t>(count)));
  double sum = 0;
  for (const Pulse& p : tail) sum += traffic.us(p);
  return sum / static_cast<double>(tail.size());
}

const Pulse* last_valid(const Traffic& traffic, const PulseTrain& input, BoardTime t) {
  const auto pulses = input.falling_in(traffic.segment().begin, t);
  for (auto p = pulses.rbegin(); p != pulses.rend(); ++p)
    if (traffic.ms(p->width()) < kLongestPulseMs) return &*p;
  return nullptr;
}

bool driven(const script::Plan& plan, const Traffic& traffic, Side side, BoardTime t) {
  const Pulse* throttle = last_valid(traffic, traffic.throttle(), t);
  const Pulse* steering = last_valid(traffic, traffic.steering(), t);
  const double mean = mean_before(traffic, side, t, kDrivenPulses);
  if (!throttle || !steering || std::isnan(mean)) return false;
  const auto y = mixer::expected(plan.spec, traffic.us(*throttle), traffic.us(*steering));
  const double neutral = neutral_of(plan, side), asked = (side == Side::left ? y.left_us : y.right_us) - neutral;
  if (std::abs(asked) < kClearlyDrivenUs) return true;
  return (mean - neutral) / asked >= 0.5;
}

bool driven(const script::Plan& plan, const Traffic& traffic, BoardTime t) {
  return driven(plan, traffic, Side::left, t) && driven(plan, traffic, Side::right, t);
}

bool never_driven(const script::Plan& plan, const std::vector<Traffic>& all) {
  const double neutral[] = {neutral_of(plan, Side::left), neutral_of(plan, Side::right)};
  double asked = 0;
  for (const Traffic& t : all) {
    for (const Side s : kSides)
      for (const Pulse& p : t.output(s).all())
        if (std::abs(t.us(p) - neutral[static_cast<int>(s)]) > kClearlyDrivenUs) return false;
    for (const Pulse& p : t.throttle().all()) {
      const Pulse* steering = t.steering().last_fallen(p.fall);
      if (!steering) continue;
      const auto y = mixer::expected(plan.spec, t.us(p), t.us(*steering));
      asked = std::max({asked, std::abs(y.left_us - neutral[0]), std::abs(y.right_us - neutral[1])});
    }
  }
  return asked > 2 * kClearlyDrivenUs;  // twice: what may be read wrong, and dead bands, do not count
}

}  // namespace midstick::judge
