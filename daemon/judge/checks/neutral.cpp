// Neutral: sticks released, both outputs at neutral (catalogue fault 46; tolerance common practice, no source).
#include <algorithm>
#include <cmath>

#include "daemon/judge/checks/checks.hpp"
#include "daemon/judge/conclude.hpp"
#include "daemon/judge/controller_clock.hpp"
#include "daemon/judge/extreme.hpp"
#include "daemon/judge/pictures.hpp"
#include "daemon/judge/sticks.hpp"
#include "daemon/judge/text.hpp"
#include "daemon/judge/uncertainty.hpp"
#include "daemon/statistics/summary.hpp"

namespace midstick::judge {
namespace {

constexpr const char* kMark = "neutral";
constexpr double kClockTold = 0.0015;  // two factors this close are the same clock error, one this close to 1 is none
constexpr std::int64_t kNeeded = 10;   // pulses on each output

Result<script::StickScript> compose(const script::Plan& plan, const script::PlannedCheck& check, std::uint64_t seed) {
  Sticks sticks(plan, check.name, seed);
  sticks.arm().hold(0, 0, param(check, "settle_ms") + param(check, "for_ms"), kMark);
  return sticks.take();
}

/// Judge one output over every watched stretch.
void judge_side(const Context& c, const std::vector<Traffic>& all, Side side, Findings& f) {
  const double neutral = neutral_of(c.plan, side);
  const double tolerance = param(c.check, "tolerance_us"), noise = param(c.check, "width_noise_us");
  Widths off;
  Extreme furthest(-noise, noise);
  for (const Traffic& t : all)
    for (const auto* mark : t.marks(kMark)) {
      const BoardTime begin = mark->at + t.ticks_ms(param(c.check, "settle_ms"));
      const auto pulses = t.output(side).within(begin, t.end_of(*mark));
      add(off, widths_of(t, pulses));
      for (const Pulse& p : pulses) furthest.add(t, p, t.us(p) - neutral);
    }
  for (double& us : off.us) us -= neutral;
  const statistics::Summary s = statistics::summarise(off.us);
  const std::string who = name(side);
  f.measures.push_back(measure(who + " mean off neutral", s.mean, -tolerance, tolerance, mean_uncertainty(s.sd, s.samples, off.uncertainty),
                               "us", s.samples, kNeeded));
  f.measures.back().note += (f.measures.back().note.empty() ? "" : "; ") + ("neutral is " + num(neutral) + " us");
  f.measures.push_back(furthest.as_measure(who + " furthest off neutral", kNeeded));
}

/// An offset that is the clock's own error is no wrong neutral: then the output frames are off by the same factor.
void add_causes(const Context& c, Findings& f) {
  const double clock = measured_controller_clock(c.plan, c.capture);
  const double off_left = f.measures[0].measured, off_right = f.measures[2].measured;
  const std::string offsets = "left " + num(off_left) + " us, right " + num(off_right) + " us off";
  double furthest_from_clock = 0;
  for (const auto& [side, off] : {std::pair{Side::left, off_left}, std::pair{Side::right, off_right}})
    furthest_from_clock = std::max(furthest_from_clock, std::abs((1 + off / neutral_of(c.plan, side)) * c.controller_clock - clock));
  if (clock > 0 && std::abs(clock - 1) > kClockTold && furthest_from_clock < kClockTold)
    f.causes.push_back({"clock-off", 0.95, offsets + ", and the output frames are " + num(100 * (clock - 1), 2) + " % off as well"});
  else if (f.measures[0].verdict == Verdict::fail || f.measures[2].verdict == Verdict::fail)
    f.causes.push_back(
        {"neutral-off", 0.9,
         offsets + " in all pulses" + (clock > 0 ? "; the output frames are " + num(100 * (clock - 1), 2) + " % off" : std::string())});
}

Picture picture(const Context& c, const Traffic& t, const capture::Mark& mark) {
  const BoardTime end = t.end_of(mark);
  Picture p = time_picture(t, mark.at, end, "Outputs with both sticks released");
  p.series.erase(p.series.begin(), p.series.begin() + 2);  // the inputs rest; leave the scale to the outputs
  for (const Side s : kSides) {
    const double neutral = neutral_of(c.plan, s), tolerance = param(c.check, "tolerance_us");
    const double last = t.ms(end - mark.at);
    p.series.push_back(level(Series::Role::expected, std::string(name(s)) + " neutral", 0, last, neutral));
    p.series.push_back(level(Series::Role::limit, std::string(name(s)) + " tolerance", 0, last, neutral - tolerance));
    p.series.push_back(level(Series::Role::limit, "", 0, last, neutral + tolerance));
  }
  p.bands.push_back({0, param(c.check, "settle_ms"), "not judged", false});
  return p;
}

CheckResult judge(const Context& c) {
  auto [all, stop] = open(c, kNeeded);
  if (stop) return *stop;
  Findings f;
  for (const Side s : kSides) judge_side(c, all, s, f);
  const bool failing = overall(f.measures) == Verdict::fail;
  if (failing) add_causes(c, f);
  for (const Traffic& t : all)
    for (const auto* mark : t.marks(kMark)) {
      f.evidence.push_back(t.span(mark->at, t.end_of(*mark), "sticks released", failing));
      if (f.pictures.empty()) f.pictures.push_back(picture(c, t, *mark));
    }
  f.when_passed = "With the sticks released both outputs rest at neutral.";
  f.when_failed = "An ESC may not arm, or the vehicle may creep, with the sticks released.";
  return conclude(c, std::move(f));
}

}  // namespace

const CheckKind kNeutral{"neutral", "sticks released: both outputs at neutral", compose, judge};

}  // namespace midstick::judge
