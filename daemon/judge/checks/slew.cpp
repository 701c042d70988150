// Slew: each stick thrown from end to end, both ways. Where the mixer spec limits how fast a stick acts, the outputs must move at that
// rate, towards centre and away from it; where it does not, they must be there at once. Common practice, no source. That a loss bypasses
// the limit is signal-loss's matter.
#include "daemon/mixer/slew.hpp"

#include <algorithm>
#include <cmath>

#include "daemon/judge/checks/checks.hpp"
#include "daemon/judge/conclude.hpp"
#include "daemon/judge/pictures.hpp"
#include "daemon/judge/sticks.hpp"
#include "daemon/judge/text.hpp"
#include "daemon/judge/uncertainty.hpp"
#include "daemon/statistics/summary.hpp"

namespace midstick::judge {
namespace {

constexpr std::int64_t kNeeded = 20;  // pulses on each output
constexpr double kBeforeMs = 60;      // back to here before a throw its old width is read
constexpr std::size_t kSettled = 4;   // pulses at the end of a throw
constexpr double kLegFrom = 0.1;      // a leg is measured between these shares of the travel: beyond them dead band and end smear it
constexpr double kLegTo = 0.9;
constexpr double kLeastTravelUs = 100;  // a side that the spec moves less by this stick does not tell its rate
constexpr double kAtOnce = 5;           // so many times the asked rate is no limit at all
const char* const kToHigh[] = {"throttle to +100 %", "steering to +100 %"};
const char* const kToLow[] = {"throttle to -100 %", "steering to -100 %"};
const char* const kNames[] = {"throttle", "steering"};

const mixer::InputSpec& input(const script::Plan& plan, int i) { return i == 0 ? plan.spec.throttle : plan.spec.steering; }

double slew_ms(const mixer::InputSpec& in) { return 1e3 * mixer::slew_seconds(in, in.rate, -in.rate); }

/// From the input's step to the outputs at rest, at most.
double limit_ms(const Context& c, int i) {
  return slew_ms(input(c.plan, i)) * (1 + param(c.check, "tolerance_percent") / 100) + 2 * c.plan.spec.turn_rest_ms +
         c.plan.spec.latency_max_ms + 2 * c.plan.spec.frame.period_high_ms;
}

Result<script::StickScript> compose(const script::Plan& plan, const script::PlannedCheck& check, std::uint64_t seed) {
  Sticks sticks(plan, check.name, seed);
  sticks.arm();
  sticks.frame().dither_us = std::min(2000.0, plan.frame.period_us / 10);  // throws come at any phase of the controller's own frame
  for (int i = 0; i < 2; ++i) {
    const double ms = 1.3 * slew_ms(input(plan, i)) + 2 * plan.spec.turn_rest_ms + plan.spec.latency_max_ms +
                      8 * plan.spec.frame.period_high_ms + 3 * plan.frame.period_us / 1e3;
    const auto throw_to = [&](double percent, const char* mark) { sticks.hold(i == 0 ? percent : 0, i == 1 ? percent : 0, ms, mark); };
    throw_to(-100, "out");
    for (int n = 0; n < count_param(check, "throws"); ++n) throw_to(100, kToHigh[i]), throw_to(-100, kToLow[i]);
    throw_to(0, "back");
  }
  return sticks.take();
}

/// Width of one side with stick `i` at `x` after its slew, the other at centre.
double side_us(const mixer::MixerSpec& spec, int i, Side side, double x) {
  const mixer::Interval at{x, x}, rest{0, 0};
  const auto us = i == 0 ? mixer::outputs_within(spec, at, rest) : mixer::outputs_within(spec, rest, at);
  return side == Side::left ? us.left.mid() : us.right.mid();
}

/// Stick position that one side's width stands for: the inverse of side_us, which is monotonic where a side tells the stick at all.
class Reader {
 public:
  Reader(const mixer::MixerSpec& spec, int i, Side side)
      : spec_(&spec), i_(i), side_(side), rate_(i == 0 ? spec.throttle.rate : spec.steering.rate) {
    low_us_ = side_us(spec, i, side, -rate_), high_us_ = side_us(spec, i, side, rate_);
  }
  double travel_us() const { return std::abs(high_us_ - low_us_); }
  double position(double us) const {
    const double sign = high_us_ >= low_us_ ? 1 : -1;
    double a = -rate_, b = rate_;
    for (int n = 0; n < 40; ++n) {
      const double middle = (a + b) / 2;
      (sign * side_us(*spec_, i_, side_, middle) < sign * us ? a : b) = middle;
    }
    return (a + b) / 2;
  }
  /// The end that still shows on the output: the side may saturate before the stick does.
  double end(double sign) const {
    const double us = sign > 0 ? high_us_ : low_us_;
    const double inward = (sign > 0) == (high_us_ >= low_us_) ? -2.0 : 2.0;
    return std::abs(position(us + inward));
  }

 private:
  const mixer::MixerSpec* spec_;
  int i_;
  Side side_;
  double rate_, low_us_{0}, high_us_{0};
};

/// The side that tells more of a stick; nothing when the spec moves neither.
std::optional<Side> telling_side(const mixer::MixerSpec& spec, int i) {
  const Side side = Reader(spec, i, Side::left).travel_us() >= Reader(spec, i, Side::right).travel_us() ? Side::left : Side::right;
  return Reader(spec, i, side).travel_us() >= kLeastTravelUs ? std::optional(side) : std::nullopt;
}

/// What the throws of one stick showed.
struct Throws {
  std::vector<double> towards, away;       ///< rates, centre-to-end travels a second
  double bound_towards{0}, bound_away{0};  ///< largest part of a rate that one frame may have added or taken
  std::vector<double> arrival_ms;
  double on_the_way{0};  ///< mean number of pulses seen between the ends
  std::int64_t asked{0}, unanswered{0};
};

/// Mean rate over the stretch of positions [from, to] on the way of `sign`; nothing when the throw never crossed it.
struct Leg {
  double rate, bound;
};
std::optional<Leg> leg(const Traffic& t, std::span<const Pulse> pulses, const std::vector<double>& at, double sign, double from,
                       double to) {
  std::size_t a = pulses.size(), b = pulses.size();
  for (std::size_t n = 0; n < pulses.size(); ++n) {
    if (sign * at[n] <= from) a = n;
    if (sign * at[n] >= to && a < n) {
      b = n;
      break;
    }
  }
  if (a >= pulses.size() || b >= pulses.size()) return std::nullopt;
  const double frame = a > 0 ? t.ms(pulses[a].rise - pulses[a - 1].rise) : 20;
  const double moved = sign * (at[b] - at[a]), ms = t.ms(pulses[b].rise - pulses[a].rise);
  const double rate = 1e3 * moved / ms;
  return Leg{rate, rate - 1e3 * moved / (ms + frame)};
}

void add_throw(const Context& c, const Traffic& t, int i, Side side, const capture::Mark& mark, double sign, Throws& found) {
  const Reader reader(c.plan.spec, i, side);
  const BoardTime end = t.end_of(mark);
  const auto sent = (i == 0 ? t.throttle() : t.steering()).falling_in(mark.at, end);
  // The first pulse after the mark may carry the new width already: the old one is read before it.
  const auto pulses = t.output(side).within(mark.at + BoardSpan{-t.ticks_ms(kBeforeMs).count}, end);
  ++found.asked;
  if (sent.empty() || pulses.size() < 2 * kSettled) return;
  std::vector<double> us, at;
  for (const Pulse& p : pulses) us.push_back(t.us(p)), at.push_back(reader.position(us.back()));
  const double settled = statistics::summarise(std::span(us).last(kSettled)).median;
  found.on_the_way += static_cast<double>(std::count_if(us.begin(), us.end(), [&](double w) {
    return std::abs(w - settled) > reader.travel_us() / 20 && std::abs(w - us.front()) > reader.travel_us() / 20;
  }));
  if (std::abs(settled - us.front()) < reader.travel_us() / 2) {
    ++found.unanswered;
    return;
  }
  std::size_t arrived = pulses.size() - 1;
  while (arrived > 0 && std::abs(us[arrived - 1] - settled) <= param(c.check, "arrived_us")) --arrived;
  found.arrival_ms.push_back(t.ms(pulses[arrived].fall - sent.front().fall));
  const double start = reader.end(-sign), stop = reader.end(sign);
  if (const auto l = leg(t, pulses, at, sign, -kLegTo * start, -kLegFrom * start))
    found.towards.push_back(l->rate), found.bound_towards = std::max(found.bound_towards, l->bound);
  if (const auto l = leg(t, pulses, at, sign, kLegFrom * stop, kLegTo * stop))
    found.away.push_back(l->rate), found.bound_away = std::max(found.bound_away, l->bound);
}

Measure rate_measure(const Context& c, const std::string& name, const std::vector<double>& rates, double bound, double asked,
                     std::int64_t throws) {
  const statistics::Summary s = statistics::summarise(rates);
  // One frame more or less at a leg's ends averages out over throws at random phase; with a single throw it stays.
  const double u = std::min(bound, rates.size() > 1 ? mean_uncertainty(s.sd, s.samples, s.mean / 100) : bound);
  const double tolerance = asked * param(c.check, "tolerance_percent") / 100;
  return measure(name, s.mean, asked - tolerance, asked + tolerance, u, "/s", s.samples, throws);
}

/// Causes: every leg far above its rate is no limit; rates off, or a way of many small steps that nobody asked for, is another limit.
void add_causes(const mixer::InputSpec& in, const char* name, const Throws& t, Findings& f) {
  const auto ratio = [](const std::vector<double>& rates, double asked) {
    return asked > 0 && !rates.empty() ? statistics::summarise(rates).mean / asked : 0;
  };
  const double towards = ratio(t.towards, in.slew_down), away = ratio(t.away, in.slew_up), fastest = std::max(towards, away);
  const double steps = t.asked > 0 ? t.on_the_way / static_cast<double>(t.asked) : 0;
  const std::string who = name;
  if (in.slew_up > 0 || in.slew_down > 0) {
    if (fastest >= kAtOnce || (fastest > 1.5 && steps < 1.5))
      f.causes.push_back(
          {"no-slew", 0.95, who + " acts " + num(fastest) + " times as fast as its limit, with " + num(steps) + " pulses on the way"});
    else if (fastest > 0)
      f.causes.push_back({"slew-rate", 0.9,
                          who + " moves evenly at " + num(100 * (towards > 0 ? towards : away), 0) + " % of its rate towards centre, " +
                              num(100 * (away > 0 ? away : towards), 0) + " % away from it"});
  } else if (steps >= 3) {
    f.causes.push_back({"slew-rate", 0.7, who + " takes " + num(steps) + " pulses from end to end where no limit is specified"});
  }
}

void judge_input(const Context& c, const std::vector<Traffic>& all, int i, Findings& f) {
  const mixer::InputSpec& in = input(c.plan, i);
  const auto side = telling_side(c.plan.spec, i);
  if (!side) return;
  Throws found;
  double u = 0;
  for (const Traffic& t : all) {
    for (const auto* mark : t.marks(kToHigh[i])) add_throw(c, t, i, *side, *mark, 1, found);
    for (const auto* mark : t.marks(kToLow[i])) add_throw(c, t, i, *side, *mark, -1, found);
    u = std::max(u, span_uncertainty_us(t.capture(), t.ticks_ms(limit_ms(c, i)), 60, 60) / 1e3);
  }
  const std::string who = kNames[i];
  const std::size_t first = f.measures.size();
  if (in.slew_down > 0)
    f.measures.push_back(rate_measure(c, who + " towards centre", found.towards, found.bound_towards, in.slew_down, found.asked));
  if (in.slew_up > 0)
    f.measures.push_back(rate_measure(c, who + " away from centre", found.away, found.bound_away, in.slew_up, found.asked));
  const statistics::Summary arrival = statistics::summarise(found.arrival_ms);
  f.measures.push_back(measure(who + " end to end", arrival.max, {}, limit_ms(c, i), u, "ms", arrival.samples,
                               std::max<std::int64_t>(1, found.asked - found.unanswered)));
  f.measures.push_back(none_allowed(who + " throws not answered", found.unanswered, found.asked, "throws", 2));
  const bool failing = std::any_of(f.measures.begin() + static_cast<std::ptrdiff_t>(first), f.measures.end(),
                                   [](const Measure& m) { return m.verdict == Verdict::fail; });
  if (failing) add_causes(in, kNames[i], found, f);
  for (const Traffic& t : all)
    for (const auto* mark : t.marks(kToHigh[i])) {
      f.evidence.push_back(t.span(mark->at, t.end_of(*mark), kToHigh[i], failing));
      if (f.pictures.size() <= static_cast<std::size_t>(i))
        f.pictures.push_back(time_picture(t, mark->at, t.end_of(*mark), "The " + who + " thrown from end to end"));
    }
}

CheckResult judge(const Context& c) {
  auto [all, stop] = open(c, kNeeded);
  if (stop) return *stop;
  Findings f;
  for (int i = 0; i < 2; ++i) judge_input(c, all, i, f);
  f.when_passed = "A stick thrown from end to end moves the outputs as fast as the mixer spec says.";
  f.when_failed = "Too fast a change jerks the vehicle and strains its gears; too slow a one makes it hard to stop.";
  return conclude(c, std::move(f));
}

}  // namespace

const CheckKind kSlew{"slew", "a stick thrown from end to end: outputs change as fast as the mixer spec allows, and no faster", compose,
                      judge};

}  // namespace midstick::judge
