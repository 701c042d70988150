// Update during a pulse: the stick moves by 1 us a frame, then faster, then from side to side in every frame, against a stretch at rest. A
// controller that changes a pulse's end while the pulse is being sent now and then cuts it, doubles it, or misses its end altogether, and
// only while the stick moves (figures common practice, no source).
//
// A pulse is an outlier when it is longer or shorter than the spec's answer to every input that it could stand for (recent_answers.hpp).
#include <algorithm>
#include <cmath>

#include "daemon/judge/checks/checks.hpp"
#include "daemon/judge/conclude.hpp"
#include "daemon/judge/extreme.hpp"
#include "daemon/judge/pictures.hpp"
#include "daemon/judge/positions.hpp"
#include "daemon/judge/recent_answers.hpp"
#include "daemon/judge/sticks.hpp"
#include "daemon/judge/text.hpp"
#include "daemon/script/percent.hpp"
#include "daemon/statistics/rates.hpp"

namespace midstick::judge {
namespace {

constexpr const char* kStill = "at rest";
constexpr const char* kSlow = "1 us a frame";
constexpr const char* kFast = "fast ramp";
constexpr const char* kSwing = "from side to side";
constexpr const char* kMoving[] = {kSlow, kFast, kSwing};
constexpr std::int64_t kNeeded = 50;    // pulses while moving, each output
constexpr double kSettleMs = 300;       // after a change of stretch, beside the latency
constexpr double kClearlyWrong = 0.25;  // an outlier this far outside, in parts of a width, is a cut or lengthened pulse
constexpr double kEqualRate = 0.2;      // so few at rest say little while this likely with outliers as often as in motion
constexpr double kLargeUs = 100;        // an output that merely lags stays nearer to the answers than this
constexpr double kRestShare = 0.3;      // outliers at rest, in parts of the rate in motion, that other reasons may add
constexpr std::size_t kSpansShown = 5;

/// Moves throttle between two widths in steps of `step_us` a frame, up and down, for `ms`; steering rests.
void zigzag(Sticks& sticks, const script::Plan& plan, const double (&end)[2], double step_us, double ms, const char* mark) {
  script::Move& move = sticks.hold_us(end[0], plan.spec.steering.centre_us, ms, mark);
  move.kind = script::Move::Kind::points;
  move.point_ms = (plan.frame.period_us + sticks.frame().dither_us) / 1e3;
  const int points = static_cast<int>(std::ceil(ms / move.point_ms));
  const double reach = std::abs(end[1] - end[0]), sign = end[1] > end[0] ? 1 : -1;
  for (int i = 0; i < points; ++i) {
    const double way = std::fmod(i * step_us, 2 * reach);
    move.points.push_back({{plan.spec.throttle.name, end[0] + sign * std::min(way, 2 * reach - way)},
                           {plan.spec.steering.name, plan.spec.steering.centre_us}});
  }
}

Result<script::StickScript> compose(const script::Plan& plan, const script::PlannedCheck& check, std::uint64_t seed) {
  Sticks sticks(plan, check.name, seed);
  sticks.arm();
  sticks.frame().dither_us = std::min(param(check, "dither_us"), plan.frame.period_us / 10);
  const auto width = [&](const char* name) { return script::width_of_percent(plan.spec.throttle, param(check, name)); };
  const double ends[] = {width("drive_low_percent"), width("drive_high_percent")};
  const double settle = plan.spec.latency_max_ms + kSettleMs, slow_ms = param(check, "slow_ms");
  const double slow_reach = std::min(std::abs(ends[1] - ends[0]), std::max(1.0, slow_ms / 2 / (plan.frame.period_us / 1e3)));
  const double slow_ends[] = {ends[0], ends[0] + (ends[1] > ends[0] ? slow_reach : -slow_reach)};
  sticks.hold_us(ends[0], plan.spec.steering.centre_us, settle + param(check, "still_ms"), kStill);
  zigzag(sticks, plan, slow_ends, 1, slow_ms, kSlow);
  zigzag(sticks, plan, ends, param(check, "step_us"), param(check, "fast_ms"), kFast);
  zigzag(sticks, plan, ends, std::abs(ends[1] - ends[0]), param(check, "swing_ms"), kSwing);
  sticks.hold(0, 0, settle, "back to neutral");
  return sticks.take();
}

/// Pulses of one output in one kind of stretch.
struct Watched {
  Extreme furthest;
  std::int64_t pulses{0}, outliers{0};
  std::int64_t large{0};   ///< of the outliers, those beyond kLargeUs
  double largest_part{0};  ///< of the pulse's own allowed width
};

Watched watch(const Context& c, const Traffic& t, const RecentAnswers& answers, Side side, BoardTime begin, BoardTime end, Findings& f) {
  const double tolerance = param(c.check, "tolerance_us");
  Watched w{Extreme(-tolerance, tolerance)};
  const bool slews = c.plan.spec.throttle.slew_up > 0 || c.plan.spec.throttle.slew_down > 0;
  const auto pulses = t.output(side).within(begin, end);
  for (std::size_t i = 0; i < pulses.size(); ++i) {
    auto allowed = answers.around(pulses[i], side);
    if (!allowed) continue;
    // A slewed output is on its way between the answers; its neighbours say where.
    if (slews)
      for (const std::size_t k : {i - 1, i + 1})
        if (k < pulses.size()) allowed = {std::min(allowed->low, t.us(pulses[k])), std::max(allowed->high, t.us(pulses[k]))};
    const double off = outside(*allowed, t.us(pulses[i]));
    ++w.pulses;
    w.furthest.add(t, pulses[i], off);
    if (std::abs(off) <= tolerance + t.width_uncertainty(pulses[i])) continue;
    ++w.outliers;
    w.large += std::abs(off) > kLargeUs;
    w.largest_part = std::max(w.largest_part, std::abs(off) / allowed->mid());
    if (f.evidence.size() >= kSpansShown) continue;
    f.evidence.push_back(t.span(pulses[i].rise, pulses[i].fall,
                                std::string(name(side)) + " pulse of " + num(t.us(pulses[i]), 0) + " us, allowed " + num(allowed->low, 0) +
                                    " to " + num(allowed->high, 0) + " us",
                                true));
    f.evidence.back().severity = std::abs(off);
  }
  return w;
}

void merge(Watched& to, const Watched& more) {
  to.furthest.merge(more.furthest);
  to.pulses += more.pulses, to.outliers += more.outliers, to.large += more.large;
  to.largest_part = std::max(to.largest_part, more.largest_part);
}

/// Large outliers that come with the motion. A few at rest do not speak against it: another fault, or a reading gone wrong, may add those.
void name_cause(const Watched& moving, const Watched& still, Findings& f) {
  if (moving.large == 0 || still.pulses == 0 || 5 * moving.outliers > moving.pulses) return;
  const double rate = static_cast<double>(moving.large) / static_cast<double>(moving.pulses);
  const double at_rest = static_cast<double>(still.large) / static_cast<double>(still.pulses);
  if (at_rest >= kRestShare * rate) return;
  const double as_few = statistics::at_most(still.large, still.pulses, rate);
  const bool telling = as_few<kEqualRate, large = moving.largest_part> kClearlyWrong;
  if (!telling && !large) return;
  f.causes.push_back({"update-in-pulse",
                      telling && large ? 0.95
                      : large          ? 0.8
                                       : 0.6,
                      whole(moving.large) + " of " + whole(moving.pulses) + " pulses more than " + num(kLargeUs, 0) +
                          " us outside while the stick moves, up to " + num(100 * moving.largest_part, 0) + " % of the width, and " +
                          whole(still.large) + " of " + whole(still.pulses) + " at rest (chance " + percent_text(as_few) +
                          " if they came as often there)"});
}

Picture picture(const Traffic& t, const Watched (&moving)[2]) {
  const Watched& worst = moving[1].largest_part > moving[0].largest_part ? moving[1] : moving[0];
  BoardTime at = t.segment().begin;
  for (const auto* mark : t.marks(kFast)) at = mark->at;
  if (worst.outliers > 0 && worst.furthest.pulse()) at = worst.furthest.pulse()->rise;
  const BoardSpan half = t.ticks_ms(250);
  return time_picture(t, std::max(t.segment().begin, at - half), std::min(t.segment().end, at + half),
                      worst.outliers > 0 ? "Around the pulse furthest outside" : "Outputs while the stick moves");
}

CheckResult judge(const Context& c) {
  auto [all, stop] = open(c, kNeeded);
  if (stop) return *stop;
  const double tolerance = param(c.check, "tolerance_us");
  const Extreme none(-tolerance, tolerance);
  Watched moving[2] = {{none}, {none}}, still[2] = {{none}, {none}};
  Findings f;
  std::vector<Span> stretches;
  for (const Traffic& t : all) {
    const RecentAnswers answers(c.plan, t, c.plan.spec.latency_max_ms + c.plan.spec.frame.period_high_ms);
    for (const Side s : kSides) {
      const int i = static_cast<int>(s);
      for (const auto* mark : t.marks(kStill))
        merge(still[i], watch(c, t, answers, s, mark->at + t.ticks_ms(c.plan.spec.latency_max_ms + kSettleMs), t.end_of(*mark), f));
      for (const char* label : kMoving) {
        const auto marks = t.marks(label);
        if (!marks.empty()) merge(moving[i], watch(c, t, answers, s, marks.front()->at, marks.back()->at, f));
        if (!marks.empty() && s == Side::left) stretches.push_back(t.span(marks.front()->at, marks.back()->at, label, false));
      }
    }
  }
  Watched both{none}, rest{none};
  for (const Side s : kSides) {
    const int i = static_cast<int>(s);
    const std::string who = name(s);
    f.measures.push_back(
        none_allowed(who + " pulses cut or lengthened in motion", moving[i].outliers, moving[i].pulses, "pulses", kNeeded));
    f.measures.push_back(moving[i].furthest.as_measure(who + " furthest outside in motion", kNeeded));
    f.measures.push_back(none_allowed(who + " pulses off at rest", still[i].outliers, still[i].pulses, "pulses", kNeeded / 2));
    merge(both, moving[i]), merge(rest, still[i]);
  }
  f.evidence.insert(f.evidence.end(), stretches.begin(), stretches.end());
  if (!all.empty()) f.pictures.push_back(picture(all.front(), moving));
  name_cause(both, rest, f);
  f.when_passed = "No pulse is cut or lengthened while the stick moves.";
  f.when_failed = "An ESC gets a single wrong pulse now and then while the stick moves: a kick, or a false loss of signal.";
  return conclude(c, std::move(f));
}

}  // namespace

const CheckKind kMidPulse{"mid-pulse", "a slow ramp: no pulse may be changed while it is being sent", compose, judge};

}  // namespace midstick::judge
