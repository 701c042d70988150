// ESC arming: power off and on with the sticks at neutral, silent or at full throttle; an ESC on each output gets its power with the
// controller's. It sees neutral in time, arms, and neither learns new ends nor moves before the sticks may arm the controller (catalogue
// faults 46, 56, 57). Figures: common practice, no source.
#include <algorithm>
#include <cmath>
#include <optional>

#include "daemon/judge/checks/checks.hpp"
#include "daemon/judge/conclude.hpp"
#include "daemon/judge/esc_log.hpp"
#include "daemon/judge/pictures.hpp"
#include "daemon/judge/sticks.hpp"
#include "daemon/judge/text.hpp"
#include "daemon/judge/uncertainty.hpp"

namespace midstick::judge {
namespace {

constexpr double kSpareMs = 300;
constexpr double kActionEarlyMs = 60;   // an action comes at its move's start, the mark with the first frame in it
constexpr double kCutMs = 0.1;          // a pulse that power off cuts short says nothing
constexpr double kNearNeutralUs = 200;  // an output this close to neutral means neutral
constexpr const char* kOff = "power off";
constexpr const char* kNeutral = "power on, sticks at neutral";
constexpr const char* kSilent = "power on, no signal";
constexpr const char* kFull = "power on, full throttle";
constexpr const char* kConditions[] = {kNeutral, kSilent, kFull};

double longest(const script::Plan& plan, double (*of)(const script::Plan&, const esc::Spec&)) {
  return std::max(of(plan, esc_of(plan, Side::left)), of(plan, esc_of(plan, Side::right)));
}
double patience(const script::Plan&, const esc::Spec& e) { return e.patience_ms; }
double learning(const script::Plan& plan, const esc::Spec& e) {
  return e.learn_off_us <= 0 ? 0 : std::max(e.learn_ms, e.learn_count * plan.spec.frame.period_high_ms);
}

Result<script::StickScript> compose(const script::Plan& plan, const script::PlannedCheck& check, std::uint64_t seed) {
  Sticks sticks(plan, check.name, seed);
  sticks.arm();
  const double boot = plan.controller.boot_ms + plan.spec.arm.boot_ms + kSpareMs;
  const double short_watch = boot + std::max(longest(plan, esc_arming_ms), longest(plan, learning));
  for (int cycle = 0; cycle < count_param(check, "cycles"); ++cycle)
    for (const char* condition : kConditions) {
      const double watch = condition == kNeutral ? std::max(short_watch, longest(plan, patience) + kSpareMs) : short_watch;
      const auto play = [&](double ms, const char* mark) -> script::Move& {
        return condition == kSilent ? sticks.silent(ms, mark) : sticks.hold(condition == kFull ? 100 : 0, 0, ms, mark);
      };
      play(param(check, "off_ms"), kOff).actions = {script::ActionKind::power_off};
      play(watch, condition).actions = {script::ActionKind::power_on};
    }
  sticks.hold(0, 0, plan.frame.period_us / 1e3 * 5, "back to neutral");
  return sticks.take();
}

/// One power-up, as the ESC on one output lived it.
struct Boot {
  const Traffic* traffic;
  const char* condition;
  Side side;
  BoardTime on, until;
  std::vector<EscStretch> states;
  std::optional<BoardTime> first, neutral, armed;  ///< first pulse; first that the ESC takes for neutral; ESC armed
  std::int64_t high{0};                            ///< pulses that lead into a learn mode
  bool learnt{false}, moved{false}, locked{false}, silent_allowed{false};

  bool failing() const { return learnt || moved || locked; }
};

/// First event of this kind from `from` on within the segment.
std::optional<BoardTime> event_after(const Traffic& t, capture::EventKind kind, BoardTime from) {
  for (const auto& e : t.capture().events)
    if (e.kind == kind && e.at >= from && e.at <= t.segment().end) return e.at;
  return std::nullopt;
}

Boot boot(const Context& c, const Traffic& t, const char* condition, Side side, BoardTime on, BoardTime until) {
  Boot b{&t, condition, side, on, until, esc_states(c.plan, t, side, on, until), {}, {}, {}};
  const esc::Spec spec = esc_of(c.plan, side);
  const auto& clock = c.capture.clock;
  const auto pulses = t.output(side).within(on, until);
  b.silent_allowed = condition != kNeutral && pulses.empty() && c.plan.spec.loss.pulses_may_stop;
  for (const Pulse& p : pulses) {
    const double off = clock.us(p.width()) * (1 + spec.clock_ppm / 1e6) - spec.neutral_us;
    if (!b.first) b.first = p.fall;
    if (!b.neutral && std::abs(off) <= spec.neutral_half_us) b.neutral = p.fall;
    b.high += spec.learn_off_us > 0 && off >= spec.learn_off_us;
  }
  const BoardTime may_move = condition == kNeutral ? on + t.ticks_ms(c.plan.spec.arm.neutral_ms) : until;
  for (const EscStretch& s : b.states) {
    if (!b.armed && s.state == esc::State::neutral) b.armed = s.begin;
    b.learnt = b.learnt || s.state == esc::State::learning;
    b.locked = b.locked || (s.state == esc::State::locked_out && !b.silent_allowed);
    b.moved = b.moved || ((esc::drives(s.state) || s.state == esc::State::brake) && s.begin < may_move);
  }
  return b;
}

std::vector<Boot> boots(const Context& c, const std::vector<Traffic>& all) {
  std::vector<Boot> found;
  for (const Traffic& t : all)
    for (const char* condition : kConditions)
      for (const auto* mark : t.marks(condition))
        if (const auto on = event_after(t, capture::EventKind::power_on, mark->at - t.ticks_ms(kActionEarlyMs))) {
          BoardTime until = t.end_of(*mark);
          if (const auto off = event_after(t, capture::EventKind::power_off, *on)) until = std::min(until, *off - t.ticks_ms(kCutMs));
          for (const Side s : kSides) found.push_back(boot(c, t, condition, s, *on, until));
        }
  return found;
}

/// Longest time from power-on to an instant that every boot in question should have.
template <class Instant>
Measure slowest(const Context& c, const std::vector<Boot>& all, Side side, const std::string& what, double limit, Instant instant,
                bool only_neutral) {
  double worst = 0;
  bool bound = false;  // the worst is one that never came
  std::int64_t n = 0, never = 0;
  for (const Boot& b : all) {
    if (b.side != side || b.silent_allowed || (only_neutral && b.condition != kNeutral)) continue;
    ++n;
    const std::optional<BoardTime> at = instant(b);
    never += !at;
    const double ms = b.traffic->ms(at.value_or(b.until) - b.on);
    if (ms >= worst) worst = ms, bound = !at;
  }
  const auto& clock = c.capture.clock;
  const double u = span_uncertainty_us(c.capture, clock.ticks({static_cast<std::int64_t>(worst * 1e6)}), kCommanded, 1) / 1e3;
  Measure m = measure(std::string(name(side)) + what, worst, {}, limit, u, "ms", n);
  if (never == 0) return m;
  withhold_pass(m);  // watched for less than the limit
  if (bound) never_came(m, "never seen");
  m.note += (m.note.empty() ? "" : "; ") + ("after " + whole(never) + " of " + whole(n) + " power-ups never while watched");
  return m;
}

void judge_side(const Context& c, const std::vector<Boot>& all, Side side, Findings& f) {
  const esc::Spec spec = esc_of(c.plan, side);
  const double boot_ms = c.plan.controller.boot_ms + c.plan.spec.arm.boot_ms;
  f.measures.push_back(slowest(
      c, all, side, " first pulse that the ESC takes for neutral", std::min(boot_ms, spec.patience_ms),
      [](const Boot& b) { return b.neutral; }, false));
  f.measures.push_back(slowest(
      c, all, side, " ESC armed, sticks at neutral", spec.patience_ms, [](const Boot& b) { return b.armed; }, true));
  std::int64_t n = 0, learnt = 0, moved = 0, locked = 0;
  for (const Boot& b : all) {
    if (b.side != side) continue;
    ++n;
    learnt += b.learnt, moved += b.moved, locked += b.locked;
  }
  const std::string who = name(side);
  f.measures.push_back(none_allowed(who + " power-ups into the ESC's learn mode", learnt, n, "power-ups"));
  f.measures.push_back(none_allowed(who + " power-ups that moved before arming", moved, n, "power-ups"));
  if (spec.power_on == esc::PowerOn::lock_out) f.measures.push_back(none_allowed(who + " power-ups locked out", locked, n, "power-ups"));
}

void name_slow_boot(const Context& c, const std::vector<Boot>& all, Findings& f) {
  const double limit = c.plan.controller.boot_ms + c.plan.spec.arm.boot_ms;
  std::int64_t n = 0, late = 0, right = 0;
  double first_ms = 0;
  for (const Boot& b : all) {
    if (b.silent_allowed) continue;
    ++n;
    const double ms = b.traffic->ms(b.first.value_or(b.until) - b.on);
    if (ms <= limit) continue;
    ++late;
    first_ms = std::max(first_ms, ms);
    right += !b.first || b.first == b.neutral;
  }
  if (late > 0 && right == late)
    f.causes.push_back({"slow-boot", 0.9 * static_cast<double>(late) / static_cast<double>(n),
                        "in " + whole(late) + " of " + whole(n) + " power-ups no pulse at all came for up to " + num(first_ms, 0) +
                            " ms; the first one then was neutral"});
}

void name_learn_mode(const std::vector<Boot>& all, Findings& f) {
  std::int64_t learnt = 0, full = 0, high = 0;
  for (const Boot& b : all) {
    if (!b.learnt) continue;
    ++learnt;
    full += b.condition == kFull;
    high = std::max(high, b.high);
  }
  if (learnt == 0) return;
  f.causes.push_back({"learn-mode", 0.9,
                      "in " + whole(learnt) + " power-ups up to " + whole(high) +
                          " high pulses came before any neutral one, and the ESC entered its learn mode"});
  if (full == learnt)
    f.causes.push_back({"drives-without-neutral", 0.7, "only with the stick at full throttle, in " + whole(full) + " power-ups"});
}

void name_neutral_off(const Context& c, const std::vector<Boot>& all, Findings& f) {
  std::int64_t n = 0, near = 0;
  double furthest = 0, band = 0;
  for (const Boot& b : all) {
    if (b.neutral || !b.first || b.learnt) continue;
    const esc::Spec spec = esc_of(c.plan, b.side);
    for (const Pulse& p : b.traffic->output(b.side).within(b.on, b.until)) {
      const double off = c.capture.clock.us(p.width()) - spec.neutral_us;
      ++n;
      near += std::abs(off) <= kNearNeutralUs;
      if (std::abs(off) > std::abs(furthest)) furthest = off, band = spec.neutral_half_us;
    }
  }
  if (n == 0 || near < n) return;
  f.causes.push_back({"neutral-off", 0.9,
                      "all " + whole(n) + " pulses of the power-ups without a neutral one are near it, up to " + num(furthest) +
                          " us off; the ESC's band is " + num(band, 0) + " us either side"});
}

Picture picture(const Context& c, const Boot& left, const Boot& right) {
  const Traffic& t = *left.traffic;
  Picture p = time_picture(t, left.on, left.until, std::string(left.condition) + ": pulses and what the ESCs make of them");
  p.series.push_back(level(Series::Role::expected, "ESC neutral", 0, t.ms(left.until - left.on), esc_of(c.plan, Side::left).neutral_us));
  for (const Boot* b : {&left, &right})
    p.lanes.push_back(esc_lane(t, b->states, b->on, b->until, std::string(name(b->side)) + " ESC", [&](const EscStretch& s) {
      return s.state == esc::State::learning || s.state == esc::State::locked_out ||
             (b->moved && (esc::drives(s.state) || s.state == esc::State::brake));
    }));
  return p;
}

void add_evidence(const Context& c, const std::vector<Boot>& all, Findings& f) {
  std::vector<Span> good;
  for (std::size_t i = 0; i + 1 < all.size(); i += 2) {
    const bool failing = all[i].failing() || all[i + 1].failing() || (!all[i].neutral && !all[i].silent_allowed);
    (failing ? f.evidence : good).push_back(all[i].traffic->span(all[i].on, all[i].until, all[i].condition, failing));
    if (f.pictures.size() < 3) f.pictures.push_back(picture(c, all[i], all[i + 1]));
  }
  f.evidence.insert(f.evidence.end(), good.begin(), good.end());
}

CheckResult judge(const Context& c) {
  auto [all, stop] = open(c, 1);
  if (stop) return *stop;
  const auto found = boots(c, all);
  const auto asked = 2 * std::size(kConditions) * static_cast<std::size_t>(count_param(c.check, "cycles")) * all.size();
  if (found.size() < asked)
    return undecided(c, "only " + whole(static_cast<std::int64_t>(found.size() / 2)) + " of " +
                            whole(static_cast<std::int64_t>(asked / 2)) + " power-ups are in the record.");
  Findings f;
  for (const Side s : kSides) judge_side(c, found, s, f);
  add_evidence(c, found, f);
  name_slow_boot(c, found, f);
  name_learn_mode(found, f);
  name_neutral_off(c, found, f);
  f.when_passed = "At each power-up an ESC on either output sees neutral in time, arms, and never enters its learn mode.";
  f.when_failed = "The ESC may not start, may learn wrong ends, or may drive at power-up.";
  return conclude(c, std::move(f));
}

}  // namespace

const CheckKind kEscArming{"esc-arming", "power on under each stick position: an ESC on each output arms, and never enters its learn mode",
                           compose, judge, true};

}  // namespace midstick::judge
