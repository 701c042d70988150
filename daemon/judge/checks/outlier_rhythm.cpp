// Outlier rhythm: a steady stick, watched long, while the input's phase wanders through the controller's own frame. Rare wrong pulses are
// counted, and asked two things: do they come in a rhythm (something that holds interrupts off does), and are they wrong by one step (a
// clock read while it carries over is)? Figures common practice, no source; catalogue faults 4, 36, 37.
#include <algorithm>
#include <cmath>

#include "daemon/judge/checks/checks.hpp"
#include "daemon/judge/conclude.hpp"
#include "daemon/judge/extreme.hpp"
#include "daemon/judge/pictures.hpp"
#include "daemon/judge/rhythm.hpp"
#include "daemon/judge/sticks.hpp"
#include "daemon/judge/text.hpp"
#include "daemon/mixer/model.hpp"
#include "daemon/statistics/summary.hpp"

namespace midstick::judge {
namespace {

constexpr const char* kSteady = "steady";
constexpr std::int64_t kNeeded = 100;  // pulses on each output
constexpr double kChance = 0.001;      // a rhythm is believed below this
constexpr double kLeastConcentration = 0.6;
constexpr double kSteps[] = {1024, 1000, 512, 256, 128, 64, 32};  // us: carries of counters of 4, 1, 0.5 us and parts of them
constexpr double kStepError = 8;                                  // us between an outlier and the answer to a slipped input
constexpr double kMostOfThem = 0.8;
constexpr double kRare = 0.2;  // share of pulses above which outliers are no longer rare
constexpr std::size_t kSpansShown = 8;

Result<script::StickScript> compose(const script::Plan& plan, const script::PlannedCheck& check, std::uint64_t seed) {
  Sticks sticks(plan, check.name, seed);
  sticks.arm();
  sticks.frame().dither_us = std::min(param(check, "dither_us"), plan.frame.period_us / 10);
  sticks.hold(param(check, "drive_percent"), param(check, "steering_percent"), param(check, "settle_ms") + param(check, "for_ms"), kSteady);
  sticks.hold(0, 0, param(check, "settle_ms"), "back to neutral");
  return sticks.take();
}

struct Outlier {
  const Traffic* traffic;
  Pulse pulse;
  Side side;
  double us, off;  ///< width, and how far from the median
};

struct Sided {
  Extreme furthest;
  std::int64_t pulses{0}, outliers{0};
};

void watch(const Context& c, const Traffic& t, Side side, Sided& sided, std::vector<Outlier>& outliers) {
  const double noise = param(c.check, "width_noise_us") + 2 * c.plan.frame.jitter_us;
  for (const auto* mark : t.marks(kSteady)) {
    const auto pulses = t.output(side).within(mark->at + t.ticks_ms(param(c.check, "settle_ms")), t.end_of(*mark));
    const double median = statistics::summarise(widths_of(t, pulses).us).median;
    for (const Pulse& p : pulses) {
      const double off = t.us(p) - median;
      ++sided.pulses;
      sided.furthest.add(t, p, off);
      if (std::abs(off) <= noise + t.width_uncertainty(p)) continue;
      ++sided.outliers;
      outliers.push_back({&t, p, side, t.us(p), off});
    }
  }
}

/// Instants of outliers in the segment that has most, ms from its begin; both outputs of one frame are one event.
std::vector<double> instants(const std::vector<Outlier>& all, double frame_ms) {
  std::vector<double> best;
  for (const Outlier& o : all) {
    std::vector<double> at;
    for (const Outlier& p : all)
      if (p.traffic == o.traffic) at.push_back(p.traffic->ms(p.pulse.fall - p.traffic->segment().begin));
    std::sort(at.begin(), at.end());
    std::vector<double> events;
    for (const double t : at)
      if (events.empty() || t - events.back() > frame_ms / 2) events.push_back(t);
    if (events.size() > best.size()) best = events;
    if (all.back().traffic == all.front().traffic) break;  // one segment: all are the same
  }
  return best;
}

/// How many outliers are the spec's answer to one input that is `step` too long or too short.
std::int64_t explained(const Context& c, const std::vector<Outlier>& all, double throttle, double steering, double step) {
  return std::count_if(all.begin(), all.end(), [&](const Outlier& o) {
    for (const double s : {step, -step})
      for (const bool on_throttle : {true, false}) {
        const auto y = mixer::expected(c.plan.spec, throttle + (on_throttle ? s : 0), steering + (on_throttle ? 0 : s));
        if (std::abs((o.side == Side::left ? y.left_us : y.right_us) - o.us) <= kStepError) return true;
      }
    return false;
  });
}

struct Slip {
  double step{0};
  std::int64_t explained{0};
};

Slip best_slip(const Context& c, const std::vector<Outlier>& all) {
  const auto& t = *all.front().traffic;
  const auto median = [&](const PulseTrain& train) {
    return statistics::summarise(widths_of(t, train.within(all.front().pulse.rise - t.ticks_ms(500), t.segment().end)).us).median;
  };
  const double throttle = median(t.throttle()), steering = median(t.steering());
  Slip best;
  for (const double step : kSteps)
    if (const auto n = explained(c, all, throttle, steering, step); n > best.explained) best = {step, n};
  return best;
}

std::string sizes(const std::vector<Outlier>& all) {
  const auto [low, high] = std::minmax_element(all.begin(), all.end(), [](const Outlier& a, const Outlier& b) { return a.off < b.off; });
  return num(low->off) + " to " + num(high->off) + " us off";
}

void name_causes(const Context& c, const std::vector<Outlier>& all, std::int64_t pulses, const Rhythm& rhythm, std::size_t events,
                 Findings& f) {
  const auto n = static_cast<std::int64_t>(all.size());
  if (n < 3) return;
  const Slip slip = best_slip(c, all);
  const double share = static_cast<double>(slip.explained) / static_cast<double>(n);
  if (share >= kMostOfThem)
    f.causes.push_back({"time-base-slip", 0.9 * share,
                        whole(slip.explained) + " of " + whole(n) + " outliers are the spec's answer to an input " + num(slip.step, 0) +
                            " us too long or too short"});
  const bool rhythmic = rhythm.chance < kChance && rhythm.concentration > kLeastConcentration;
  if (rhythmic)
    f.causes.push_back({"interrupts-off", share >= kMostOfThem ? 0.4 : 0.9,
                        whole(static_cast<std::int64_t>(events)) + " outliers come every " + num(rhythm.period_ms) +
                            " ms or a part of it (chance below " + percent_text(rhythm.chance) + "), " + sizes(all)});
  const bool rare = static_cast<double>(n) < kRare * static_cast<double>(pulses);
  if (!rhythmic && share < kMostOfThem && rare)
    f.causes.push_back(
        {"interrupt-jitter", 0.5, whole(n) + " of " + whole(pulses) + " pulses without a common rhythm or step, " + sizes(all)});
}

Picture over_time(const std::vector<Traffic>& all, const std::vector<Outlier>& outliers) {
  const Traffic& t = outliers.empty() ? all.front() : *outliers.front().traffic;
  Picture p;
  p.title = "Widths with a steady stick";
  p.x_label = "time in the check, ms";
  p.y_label = "pulse width, us";
  for (const auto* mark : t.marks(kSteady))
    for (const Side s : kSides)
      p.series.push_back(
          widths_over_time(t, t.output(s).within(mark->at, t.end_of(*mark)), t.segment().begin, Series::Role::measured, name(s)));
  return p;
}

void show(const std::vector<Traffic>& all, const std::vector<Outlier>& outliers, Findings& f) {
  std::vector<const Outlier*> order;
  for (const Outlier& o : outliers) order.push_back(&o);
  std::stable_sort(order.begin(), order.end(), [](auto* a, auto* b) { return std::abs(a->off) > std::abs(b->off); });
  for (std::size_t i = 0; i < std::min(order.size(), kSpansShown); ++i) {
    const Outlier& o = *order[i];
    f.evidence.push_back(o.traffic->span(o.pulse.rise, o.pulse.fall, std::string(name(o.side)) + " width " + num(o.off) + " us off", true));
  }
  for (const Traffic& t : all)
    for (const auto* mark : t.marks(kSteady)) f.evidence.push_back(t.span(mark->at, t.end_of(*mark), "steady stick", false));
  f.pictures.push_back(over_time(all, outliers));
}

CheckResult judge(const Context& c) {
  auto [all, stop] = open(c, kNeeded);
  if (stop) return *stop;
  const double noise = param(c.check, "width_noise_us") + 2 * c.plan.frame.jitter_us;
  Findings f;
  std::vector<Outlier> outliers;
  std::int64_t pulses = 0;
  for (const Side s : kSides) {
    Sided sided{Extreme(-noise, noise)};
    for (const Traffic& t : all) watch(c, t, s, sided, outliers);
    const std::string who = name(s);
    f.measures.push_back(none_allowed(who + " widths beyond " + num(noise, 0) + " us", sided.outliers, sided.pulses, "pulses", kNeeded));
    f.measures.push_back(sided.furthest.as_measure(who + " furthest from the median", kNeeded));
    pulses += sided.pulses;
  }
  const auto events = instants(outliers, c.plan.spec.frame.period_low_ms);
  const Rhythm rhythm = best_rhythm(events, 2 * c.plan.spec.frame.period_high_ms);
  if (!outliers.empty()) {
    auto& note = f.measures.front().note;
    note += "; " + (rhythm.chance < kChance ? "every " + num(rhythm.period_ms) + " ms, chance below " + percent_text(rhythm.chance)
                                            : std::string("no rhythm beyond chance"));
    name_causes(c, outliers, pulses, rhythm, events.size(), f);
  }
  show(all, outliers, f);
  f.when_passed = "With a steady stick no pulse was off in " + whole(pulses) + " pulses.";
  f.when_failed = "The vehicle twitches now and then though its stick is still.";
  return conclude(c, std::move(f));
}

}  // namespace

const CheckKind kOutlierRhythm{"outlier-rhythm", "a steady stick, watched long: rare wrong pulses and the rhythm they come in", compose,
                               judge};

}  // namespace midstick::judge
