// What pins cannot do: ground open, levels low, a supply dip, a floating input (common practice, no source). A relay on a spare line does
// it, or a person's hand at a word from the program; without either the check is not run, says so, and takes no board time. Judged like a
// loss: outputs safe in time; after a supply dip: back disarmed, or never gone.
#include <algorithm>
#include <cmath>
#include <limits>

#include "daemon/judge/checks/checks.hpp"
#include "daemon/judge/conclude.hpp"
#include "daemon/judge/pictures.hpp"
#include "daemon/judge/safe.hpp"
#include "daemon/judge/sticks.hpp"
#include "daemon/judge/text.hpp"
#include "daemon/judge/uncertainty.hpp"

namespace midstick::judge {
namespace {

constexpr std::int64_t kNeeded = 10;
constexpr double kDriveMs = 500;
constexpr const char* kFault = "relay on";
constexpr const char* kAfterDip = "after the dip";
constexpr const char* kHeld = "held by hand";
constexpr const char* kRestored = "put back";
constexpr const char* kHandMark = "by hand: ";  // the engine reads these marks out to the person

std::string by(const script::PlannedCheck& check) { return check.params.at("by").get<std::string>(); }
std::string what(const script::PlannedCheck& check) { return check.params.at("what").get<std::string>(); }

/// Why the check is left out; empty when it is run.
std::string left_out(const script::Plan& plan, const script::PlannedCheck& check) {
  const std::string who = by(check);
  if (who == "none") return "the plan names neither a relay nor a hand for it (\"by\").";
  if (who == "nobody") return "it needs a person's hand, and the run was started without --hand.";
  if (who == "virtual") return "it needs a relay or a hand, and the virtual bench has neither.";
  if (who != "hand" && !plan.controller.relay(who)) return "the controller description has no relay \"" + who + "\".";
  return "";
}

const char* asked_of_hand(const std::string& what) {
  if (what == "levels_low") return "put the level divider into the receiver's signal wires";
  if (what == "supply_dip") return "switch the controller's supply off and on once, at its switch";
  if (what == "floating_input") return "pull the throttle signal wire off at the receiver's end";
  return "open the receiver's ground wire at its plug";
}

void by_hand(Sticks& sticks, const script::PlannedCheck& check) {
  const double drive = param(check, "drive_percent"), act_ms = param(check, "act_ms");
  const std::string caution = " CAUTION: outputs are driven; hands off tracks, motors and bare wires.";
  sticks.hold(drive, 0, act_ms,
              kHandMark + std::string(asked_of_hand(what(check))) + " within " + num(act_ms / 1e3, 0) + " s, and keep it so." + caution);
  sticks.hold(drive, 0, param(check, "watch_ms"), kHeld);
  sticks.hold(0, 0, act_ms, kHandMark + std::string("put it back as it was within ") + num(act_ms / 1e3, 0) + " s.");
}

void by_relay(Sticks& sticks, const script::Plan& plan, const script::PlannedCheck& check) {
  const double drive = param(check, "drive_percent");
  const bool dip = what(check) == "supply_dip";
  const double least = dip ? 0 : plan.spec.loss.safe_within_ms + param(check, "relay_ms") + 200;
  script::ChannelFault on;
  on.input = by(check);
  on.fault = script::Fault::stuck_high;
  sticks.hold(drive, 0, std::max(param(check, "for_ms"), least), kFault).faults = {on};
  if (dip) sticks.hold(drive, 0, plan.controller.boot_ms + plan.spec.arm.boot_ms + param(check, "watch_ms"), kAfterDip);
}

Result<script::StickScript> compose(const script::Plan& plan, const script::PlannedCheck& check, std::uint64_t seed) {
  Sticks sticks(plan, check.name, seed);
  if (!left_out(plan, check).empty()) return sticks.take();
  sticks.arm().hold(param(check, "drive_percent"), 0, kDriveMs, "drive");
  if (by(check) == "hand")
    by_hand(sticks, check);
  else
    by_relay(sticks, plan, check);
  sticks.hold(0, 0, plan.spec.arm.neutral_ms + kArmMarginMs, kRestored);
  return sticks.take();
}

/// Both outputs over a stretch in which they must be safe, at the latest `allowed_ms` after its begin.
void judge_safe(const Context& c, const Traffic& t, BoardTime from, BoardTime until, double allowed_ms, Findings& f) {
  for (const Side s : kSides) {
    const SafeWatch w = watch_safe(c.plan, t, s, from, until, std::numeric_limits<double>::quiet_NaN(), 0);
    const double ms = t.ms(w.safe_at.value_or(until) - from);
    const double u = span_uncertainty_us(c.capture, w.safe_at.value_or(until) - from, kCommanded, w.safe_half) / 1e3;
    Measure m = measure(std::string(name(s)) + " time to safe", ms, {}, allowed_ms, u, "ms", 1);
    if (!w.safe_at) {
      never_came(m, kNeverSafe);
      m.note = w.stuck_high ? "the output stuck high" : "not safe when the watch ended";
    }
    f.evidence.push_back(t.span(from, until, what(c.check), m.verdict == Verdict::fail));
    f.measures.push_back(std::move(m));
  }
}

/// Did an output pause for longer than two of the spec's frames?
bool paused(const Context& c, const Traffic& t, BoardTime from, BoardTime until) {
  for (const Side s : kSides) {
    BoardTime last = from;
    for (const Pulse& p : t.output(s).falling_in(from, until)) {
      if (t.ms(p.fall - last) > 2 * c.plan.spec.frame.period_high_ms) return true;
      last = p.fall;
    }
    if (t.ms(until - last) > 2 * c.plan.spec.frame.period_high_ms) return true;
  }
  return false;
}

void judge_one(const Context& c, const Traffic& t, Findings& f) {
  const double allowed = c.plan.spec.loss.safe_within_ms + param(c.check, "relay_ms");
  const bool dip = what(c.check) == "supply_dip";
  for (const auto* mark : t.marks(dip ? kAfterDip : kFault)) {
    if (!dip && !driven(c.plan, t, mark->at)) continue;
    const BoardTime end = t.end_of(*mark);
    const auto faults = t.marks(kFault);
    if (dip && !faults.empty() && !paused(c, t, faults.front()->at, end)) {
      f.measures.push_back(none_allowed("dips that stopped the outputs", 0, 1, "dips"));
      f.evidence.push_back(t.span(faults.front()->at, end, "dip ridden through", false));
      continue;
    }
    judge_safe(c, t, mark->at, end, dip ? c.plan.controller.boot_ms + c.plan.spec.arm.boot_ms : allowed, f);
  }
  // Nobody knows when the hand moved, only that it had done so at the end of the time it was given.
  for (const auto* mark : t.marks(kHeld)) judge_safe(c, t, mark->at, t.end_of(*mark), 2 * c.plan.spec.frame.period_high_ms, f);
}

CheckResult not_run(const Context& c, const std::string& why) {
  CheckResult r;
  r.name = c.check.name;
  r.kind = c.check.kind;
  r.not_run = why;
  r.summary = "Not run: " + why;
  return r;
}

CheckResult judge(const Context& c) {
  if (const std::string why = left_out(c.plan, c.check); !why.empty()) return not_run(c, why);
  auto [all, stop] = open(c, kNeeded);
  if (stop) return *stop;
  Findings f;
  for (const Traffic& t : all) {
    judge_one(c, t, f);
    if (f.pictures.empty()) f.pictures.push_back(time_picture(t, t.segment().begin, t.segment().end, "Wiring fault: " + what(c.check)));
  }
  if (f.measures.empty()) return undecided(c, "the outputs were not driven when the fault came.");
  f.when_passed = "With this fault in the wiring the outputs are safe in time.";
  f.when_failed = "The vehicle may keep moving, or move by itself, with this fault in its wiring.";
  return conclude(c, std::move(f));
}

}  // namespace

const CheckKind kWiringFault{"wiring-fault", "ground open, levels low, supply dips: by a relay or a person's hand", compose, judge};

}  // namespace midstick::judge
