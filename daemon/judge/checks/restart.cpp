// Restart: the reset line while driving, at random phase, sticks held (catalogue faults 25, 31, 50; figures common practice, no source).
//
// After it the outputs stay safe until both sticks have rested at neutral for the arming time, then follow again. Then a restart with both
// sticks a little off centre, as a hand on them leaves them: a controller that learns its centre at start must not learn that one. A pulse
// that the reset cuts short is not held against the controller.
#include <algorithm>
#include <cmath>

#include "daemon/judge/checks/checks.hpp"
#include "daemon/judge/conclude.hpp"
#include "daemon/judge/extreme.hpp"
#include "daemon/judge/pictures.hpp"
#include "daemon/judge/safe.hpp"
#include "daemon/judge/steady.hpp"
#include "daemon/judge/sticks.hpp"
#include "daemon/judge/text.hpp"
#include "daemon/judge/uncertainty.hpp"
#include "daemon/mixer/model.hpp"
#include "daemon/statistics/summary.hpp"

namespace midstick::judge {
namespace {

constexpr double kCutMs = 4;  // no pulse is longer
constexpr std::int64_t kNeeded = 10;
constexpr double kThrottle = 60, kSteering = 20;  // percent
constexpr double kPhaseMs = 100;                  // the reset comes within this
constexpr double kHeldSpareMs = 400;
constexpr double kJudgeMs = 500;
constexpr double kFollowPercent = 50;
constexpr double kSameFrame = 0.03;  // of the output frame: a rhythm that goes on as if there had been no reset
constexpr double kDrivenUs = 50;     // from neutral: speed, not a neutral that is a little off
constexpr int kLastPulses = 5;
constexpr const char* kReset = "reset, sticks held";
constexpr const char* kNeutral = "neutral";
constexpr const char* kFollow = "follow";
constexpr const char* kOffCentre = "reset, sticks off centre";
constexpr const char* kTrueNeutral = "true neutral";

double held_ms(const script::Plan& plan) { return kPhaseMs + plan.spec.arm.boot_ms + kHeldSpareMs; }

Result<script::StickScript> compose(const script::Plan& plan, const script::PlannedCheck& check, std::uint64_t seed) {
  Sticks sticks(plan, check.name, seed);
  const double arm_ms = plan.spec.arm.neutral_ms + kArmMarginMs, drive_ms = param(check, "drive_ms") + settled_after_ms(plan);
  const auto reset = [&](script::Move& move) { move.actions = {script::ActionKind::reset}, move.action_within_ms = kPhaseMs; };
  for (int cycle = 0; cycle < count_param(check, "cycles"); ++cycle) {
    sticks.arm().hold(kThrottle, kSteering, drive_ms, "drive");
    reset(sticks.hold(kThrottle, kSteering, held_ms(plan), kReset));
    sticks.hold(0, 0, arm_ms, kNeutral);
    sticks.hold(kThrottle, kSteering, drive_ms, kFollow);
  }
  const double off = param(check, "off_centre_us");
  reset(sticks.hold_us(plan.spec.throttle.centre_us + off, plan.spec.steering.centre_us - off, held_ms(plan) + arm_ms, kOffCentre));
  sticks.hold(0, 0, arm_ms + kJudgeMs, kTrueNeutral);
  sticks.hold(kThrottle, kSteering, drive_ms, kFollow);
  sticks.hold(0, 0, drive_ms, "back to neutral");
  return sticks.take();
}

/// The reset that a mark's stretch contains: when it was asserted.
std::optional<BoardTime> reset_in(const Context& c, BoardTime begin, BoardTime end) {
  for (const auto& e : c.capture.events)
    if (e.kind == capture::EventKind::reset_asserted && e.at >= begin && e.at <= end) return e.at;
  return {};
}

/// Does the output's rhythm go on over the reset as if there had been none?
bool undisturbed(const Traffic& t, Side side, BoardTime reset) {
  const auto before = t.output(side).within(reset + t.ticks_ms(-300), reset);
  const auto after = t.output(side).within(reset, reset + t.ticks_ms(1000));
  if (before.size() < 3 || after.empty()) return false;
  const double frame = t.ms(before.back().rise - before.front().rise) / static_cast<double>(before.size() - 1);
  const double frames = t.ms(after.front().rise - before.back().rise) / frame;
  return frames < 3 && std::abs(frames - std::round(frames)) < kSameFrame;
}

struct Restart {
  const Traffic* traffic;
  BoardTime reset, neutral, end;  ///< asserted; sticks at neutral; end of the following drive
  SafeWatch after[2];
  double follow_percent[2]{};
  bool undisturbed{false};
};

double follow_percent(const Context& c, const Traffic& t, Side s, BoardTime end) {
  const Pulse* throttle = last_valid(t, t.throttle(), end);
  const Pulse* steering = last_valid(t, t.steering(), end);
  if (!throttle || !steering) return 0;
  const auto y = mixer::expected(c.plan.spec, t.us(*throttle), t.us(*steering));
  const double neutral = neutral_of(c.plan, s), asked = (s == Side::left ? y.left_us : y.right_us) - neutral;
  const double mean = mean_before(t, s, end, kLastPulses);
  return asked == 0 ? 100 : std::isnan(mean) ? 0 : (mean - neutral) / asked * 100;
}

/// From the fall of a pulse that was under way, or from the reset.
BoardTime fresh_from(const Traffic& t, Side s, BoardTime reset) {
  for (const Pulse& p : t.output(s).falling_in(reset, reset + t.ticks_ms(5)))
    if (p.rise <= reset) return p.fall;
  return reset;
}

std::vector<Restart> restarts(const Context& c, const std::vector<Traffic>& all) {
  std::vector<Restart> found;
  for (const Traffic& t : all)
    for (const auto* mark : t.marks(kReset)) {
      const auto* neutral = next_mark(t, kNeutral, mark->at);
      const auto* follow = next_mark(t, kFollow, mark->at);
      const auto reset = reset_in(c, mark->at, t.end_of(*mark));
      // A little earlier: the last pulse is cut short by the reset itself.
      if (!neutral || !follow || !reset || !driven(c.plan, t, *reset + BoardSpan{-t.ticks_ms(kCutMs).count})) continue;
      const auto watch = [&](Side s) { return watch_safe(c.plan, t, s, fresh_from(t, s, *reset), neutral->at, NAN, 0); };
      Restart r{
          &t, *reset, neutral->at, t.end_of(*follow), {watch(Side::left), watch(Side::right)}, {}, undisturbed(t, Side::left, *reset)};
      for (const Side s : kSides) r.follow_percent[static_cast<int>(s)] = follow_percent(c, t, s, r.end);
      found.push_back(r);
    }
  return found;
}

void judge_side(const Context& c, const std::vector<Restart>& all, Side side, Findings& f) {
  const double half = c.plan.spec.loss.safe_half_us;
  const int i = static_cast<int>(side);
  Extreme off(-half, half);
  double least = 1e9;
  for (const Restart& r : all) off.merge(r.after[i].off), least = std::min(least, r.follow_percent[i]);
  const std::string who = name(side);
  f.measures.push_back(off.as_measure(who + " off neutral before the sticks were", kNeeded));
  f.measures.push_back(
      measure(who + " follows again", all.empty() ? 0 : least, kFollowPercent, {}, 0, "%", static_cast<std::int64_t>(all.size())));
  f.measures.back().note = "of the movement that the spec asks, after the sticks were at neutral";
}

/// Back at speed with the sticks never at neutral?
void name_armed(const std::vector<Restart>& all, Findings& f) {
  for (const Restart& r : all)
    for (const Side s : kSides) {
      const int i = static_cast<int>(s);
      if (!r.after[i].off.failing() || std::abs(r.after[i].off.value()) < kDrivenUs) continue;
      f.causes.push_back({"armed-after-restart", 0.9,
                          std::string("the ") + name(s) + " output went " + num(r.after[i].off.value(), 0) +
                              " us from neutral after the reset, with the sticks never at neutral"});
      return;
    }
}

void judge_centre(const Context& c, const std::vector<Traffic>& all, Findings& f) {
  const double tolerance = param(c.check, "neutral_us"), off = param(c.check, "off_centre_us");
  for (const Side side : kSides) {
    Widths w;
    for (const Traffic& t : all)
      for (const auto* mark : t.marks(kTrueNeutral)) {
        const BoardTime end = t.end_of(*mark);
        add(w, widths_of(t, t.output(side).within(end + t.ticks_ms(-kJudgeMs), end)));
      }
    const double neutral = neutral_of(c.plan, side);
    for (double& us : w.us) us -= neutral;
    const statistics::Summary s = statistics::summarise(w.us);
    Measure m = measure(std::string(name(side)) + " neutral after a start off centre", s.mean, -tolerance, tolerance,
                        mean_uncertainty(s.sd, s.samples, w.uncertainty), "us", s.samples, kNeeded);
    const auto y = mixer::expected(c.plan.spec, c.plan.spec.throttle.centre_us - off, c.plan.spec.steering.centre_us + off);
    const double learnt = (side == Side::left ? y.left_us : y.right_us) - neutral;
    const double apart = std::abs(s.mean - learnt);
    if (m.verdict == Verdict::fail && std::abs(learnt) > tolerance && apart < std::abs(learnt) / 2)
      f.causes.push_back({"poisoned-calibration", 0.95,
                          std::string("with the sticks at centre the ") + name(side) + " output is " + num(s.mean) +
                              " us off neutral; a centre learnt " + num(off, 0) + " us off gives " + num(learnt) + " us"});
    f.measures.push_back(std::move(m));
  }
}

CheckResult judge(const Context& c) {
  auto [all, stop] = open(c, kNeeded);
  if (stop) return *stop;
  const auto found = restarts(c, all);
  if (found.empty()) return undecided(c, "the outputs were not driven when the reset came, or no reset is in the record.");
  if (std::all_of(found.begin(), found.end(), [](const Restart& r) { return r.undisturbed; }))
    return undecided(c, "the outputs went on as if there had been no reset. Is the controller's reset line wired?");
  Findings f;
  for (const Side s : kSides) judge_side(c, found, s, f);
  name_armed(found, f);
  judge_centre(c, all, f);
  for (const Restart& r : found) {
    const bool lurch = r.after[0].off.failing() || r.after[1].off.failing();
    f.evidence.push_back(r.traffic->span(r.reset, r.neutral, "reset, sticks not yet at neutral", lurch));
    if (!f.pictures.empty()) continue;
    const BoardTime lead = r.reset - r.traffic->ticks_ms(200);
    Picture p = time_picture(*r.traffic, lead, r.end, "Reset while driving");
    p.bands.push_back({200, r.traffic->ms(r.neutral - lead), "must stay safe", lurch});
    f.pictures.push_back(std::move(p));
  }
  for (const Traffic& t : all)
    for (const auto* mark : t.marks(kTrueNeutral)) {
      const bool off = std::any_of(f.causes.begin(), f.causes.end(), [](const Cause& x) { return x.id == "poisoned-calibration"; });
      f.evidence.push_back(t.span(mark->at, t.end_of(*mark), "at neutral, after a start off centre", off));
    }
  f.when_passed = "After a reset the outputs stay safe until both sticks have been at neutral, and neutral is where it was.";
  f.when_failed = "The vehicle may drive off by itself after a brief restart.";
  return conclude(c, std::move(f));
}

}  // namespace

const CheckKind kRestart{"restart", "a reset while driving: disarmed until neutral, and neutral learnt right", compose, judge};

}  // namespace midstick::judge
