// Recovery: the signal returns with the stick off centre. Outputs stay safe, also through a neutral that is too short, until both sticks
// have rested at neutral for the arming time; then they follow again (catalogue faults 25, 28; figures common practice, no source).
#include <algorithm>
#include <cmath>

#include "daemon/judge/checks/checks.hpp"
#include "daemon/judge/conclude.hpp"
#include "daemon/judge/pictures.hpp"
#include "daemon/judge/safe.hpp"
#include "daemon/judge/steady.hpp"
#include "daemon/judge/sticks.hpp"
#include "daemon/judge/text.hpp"
#include "daemon/mixer/model.hpp"
#include "daemon/mixer/slew.hpp"

namespace midstick::judge {
namespace {

constexpr std::int64_t kNeeded = 10;
constexpr double kLostSpareMs = 300;
constexpr double kFollowPercent = 50;  // of what the spec asks, to count as following
constexpr double kDrivenUs = 50;       // from neutral: speed, not a neutral that is a little off
constexpr int kLastPulses = 5;
constexpr const char* kLost = "lost";
constexpr const char* kBack = "back, off centre";
constexpr const char* kGlimpse = "neutral too short";
constexpr const char* kStill = "off centre again";
constexpr const char* kArm = "neutral";
constexpr const char* kFollow = "follow";

Result<script::StickScript> compose(const script::Plan& plan, const script::PlannedCheck& check, std::uint64_t seed) {
  Sticks sticks(plan, check.name, seed);
  DrivePoints points(check, seed);
  const double drive_ms = param(check, "drive_ms") + 1e3 * mixer::longest_slew_seconds(plan.spec), arm_ms = plan.spec.arm.neutral_ms;
  for (int cycle = 0; cycle < count_param(check, "cycles"); ++cycle) {
    const double throttle = points.next();
    sticks.arm().hold(throttle, 0, drive_ms, "drive");
    sticks.silent(param_or(check, "lost_ms", plan.spec.loss.safe_within_ms + kLostSpareMs), kLost);
    sticks.hold(throttle, 0, param(check, "watch_ms"), kBack);
    if (arm_ms >= 10 * plan.frame.period_us / 1e3) {  // half of it is then well short of arming, whole frames and latency included
      sticks.hold(0, 0, arm_ms / 2, kGlimpse);
      sticks.hold(throttle, 0, drive_ms, kStill);
    }
    sticks.hold(0, 0, arm_ms + kArmMarginMs, kArm);
    sticks.hold(throttle, 0, drive_ms, kFollow);
  }
  sticks.hold(0, 0, drive_ms, "back to neutral");
  return sticks.take();
}

/// What one loss and return showed.
struct Return {
  const Traffic* traffic;
  BoardTime lost, back, armed, end;
  bool was_safe;               ///< both outputs, when the signal came back
  SafeWatch after[2];          ///< from the return to the neutral that arms
  SafeWatch early[2];          ///< of that, up to the neutral too short
  double follow_percent[2]{};  ///< of what the spec asks, at the end
};

double follow_percent(const Context& c, const Traffic& t, Side s, BoardTime begin, BoardTime end) {
  const Pulse* throttle = last_valid(t, t.throttle(), end);
  const Pulse* steering = last_valid(t, t.steering(), end);
  const auto pulses = t.output(s).falling_in(begin, end);
  if (!throttle || !steering || pulses.empty()) return 0;
  const auto y = mixer::expected(c.plan.spec, t.us(*throttle), t.us(*steering));
  const double neutral = neutral_of(c.plan, s), asked = (s == Side::left ? y.left_us : y.right_us) - neutral;
  return asked == 0 ? 100 : (mean_before(t, s, end, kLastPulses) - neutral) / asked * 100;
}

std::vector<Return> returns(const Context& c, const std::vector<Traffic>& all) {
  std::vector<Return> found;
  for (const Traffic& t : all)
    for (const auto* lost : t.marks(kLost)) {
      const auto* back = next_mark(t, kBack, lost->at);
      const auto* arm = next_mark(t, kArm, lost->at);
      const auto* follow = next_mark(t, kFollow, lost->at);
      if (!back || !arm || !follow || !driven(c.plan, t, lost->at)) continue;
      const auto watch = [&](Side s, BoardTime begin, BoardTime end) { return watch_safe(c.plan, t, s, begin, end, NAN, 0); };
      const bool was_safe = watch(Side::left, lost->at, back->at).safe_at && watch(Side::right, lost->at, back->at).safe_at;
      Return r{&t,
               lost->at,
               back->at,
               arm->at,
               t.end_of(*follow),
               was_safe,
               {watch(Side::left, back->at, arm->at), watch(Side::right, back->at, arm->at)},
               {watch(Side::left, back->at, t.end_of(*back)), watch(Side::right, back->at, t.end_of(*back))},
               {}};
      for (const Side s : kSides) r.follow_percent[static_cast<int>(s)] = follow_percent(c, t, s, follow->at, r.end);
      found.push_back(r);
    }
  return found;
}

void judge_safe(const Context& c, const std::vector<Return>& all, Side side, Findings& f) {
  const double half = c.plan.spec.loss.safe_half_us;
  Extreme off(-half, half);
  std::int64_t silent = 0;
  for (const Return& r : all) {
    const SafeWatch& w = r.after[static_cast<int>(side)];
    off.merge(w.off);
    silent += w.stuck_high || (w.silent && !c.plan.spec.loss.pulses_may_stop);
  }
  const auto n = static_cast<std::int64_t>(all.size());
  const std::string who = name(side);
  if (off.pulse() || !c.plan.spec.loss.pulses_may_stop)
    f.measures.push_back(off.as_measure(who + " off neutral before the sticks were", kNeeded));
  f.measures.push_back(none_allowed(who + " silent or stuck after the return", silent, n, "returns"));
}

void judge_follow(const std::vector<Return>& all, Side side, Findings& f) {
  double least = 1e9;
  for (const Return& r : all) least = std::min(least, r.follow_percent[static_cast<int>(side)]);
  const auto n = static_cast<std::int64_t>(all.size());
  f.measures.push_back(measure(std::string(name(side)) + " follows again", all.empty() ? 0 : least, kFollowPercent, {}, 0, "%", n));
  f.measures.back().note +=
      (f.measures.back().note.empty() ? "" : "; ") + std::string("of the movement that the spec asks, after the sticks were at neutral");
}

/// Driven again without any neutral, or only after one that was too short?
void name_causes(const std::vector<Return>& all, Findings& f) {
  std::int64_t at_once = 0, glimpse = 0;
  const auto driven = [](const SafeWatch& w) { return w.off.failing() && std::abs(w.off.value()) > kDrivenUs; };
  for (const Return& r : all) {
    const bool early = driven(r.early[0]) || driven(r.early[1]);
    at_once += early;
    glimpse += !early && (driven(r.after[0]) || driven(r.after[1]));
  }
  const std::string of = " of " + whole(static_cast<std::int64_t>(all.size())) + " returns";
  if (at_once > 0)
    f.causes.push_back({"no-rearm", 0.9, "driven again with the sticks never at neutral, at " + whole(at_once) + of});
  else if (glimpse > 0)
    f.causes.push_back(
        {"rearm-too-soon", 0.9, "driven again after half the arming time at neutral, not before, at " + whole(glimpse) + of});
}

CheckResult judge(const Context& c) {
  auto [all, stop] = open(c, kNeeded);
  if (stop) return *stop;
  const auto found = returns(c, all);
  if (found.empty()) return undecided(c, "the outputs were not driven when the signal went, or it never went and came back.");
  if (std::none_of(found.begin(), found.end(), [](const Return& r) { return r.was_safe; }))
    return undecided(c, "the outputs never became safe while the signal was gone, so there was nothing to recover from (see signal loss).");
  std::vector<Return> fit;
  std::copy_if(found.begin(), found.end(), std::back_inserter(fit), [](const Return& r) { return r.was_safe; });
  Findings f;
  for (const Side s : kSides) judge_safe(c, fit, s, f);
  for (const Side s : kSides) judge_follow(fit, s, f);
  name_causes(fit, f);
  if (fit.size() < found.size())
    f.measures.push_back(measure("losses that ended safe", static_cast<double>(fit.size()), static_cast<double>(found.size()), {}, 0,
                                 "count", static_cast<std::int64_t>(found.size())));
  for (const Return& r : found) {
    const bool lurch = r.after[0].off.failing() || r.after[1].off.failing();
    f.evidence.push_back(r.traffic->span(r.back, r.armed, "signal back, sticks not yet at neutral", lurch));
    f.evidence.push_back(r.traffic->span(r.armed, r.end, "neutral, then driven again", false));
    if (!f.pictures.empty()) continue;
    Picture p = time_picture(*r.traffic, r.lost, r.end, "Signal lost and back");
    p.bands.push_back({0, r.traffic->ms(r.back - r.lost), "no signal", false});
    p.bands.push_back({r.traffic->ms(r.back - r.lost), r.traffic->ms(r.armed - r.lost), "must stay safe", lurch});
    f.pictures.push_back(std::move(p));
  }
  f.when_passed = "After a loss the outputs stay safe until both sticks have been at neutral, then follow again.";
  f.when_failed = "The vehicle may lurch when its radio link returns, or not come back at all.";
  return conclude(c, std::move(f));
}

}  // namespace

const CheckKind kRecovery{"recovery", "signal returns with the stick off centre: safe until neutral, then follows", compose, judge};

}  // namespace midstick::judge
