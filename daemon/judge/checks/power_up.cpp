// Power-up: power off and on, with sticks at neutral, silent or off centre. The first pulse is a legal neutral one and in time, no runt
// before or after it, nothing but neutral until armed (catalogue faults 29, 31, 32, 56, 57; figures common practice, no source).
#include <algorithm>
#include <cmath>
#include <optional>

#include "daemon/judge/checks/checks.hpp"
#include "daemon/judge/conclude.hpp"
#include "daemon/judge/pictures.hpp"
#include "daemon/judge/safe.hpp"
#include "daemon/judge/sticks.hpp"
#include "daemon/judge/text.hpp"
#include "daemon/judge/uncertainty.hpp"
#include "daemon/statistics/rates.hpp"

namespace midstick::judge {
namespace {

constexpr double kWatchSpareMs = 500;
constexpr double kCutMs = 0.1;  // a pulse that power off cuts short is no runt
constexpr double kShownMs = 400;
constexpr std::size_t kSpansShown = 8;
constexpr double kActionEarlyMs = 60;  // an action comes at its move's start, the mark with the first frame in it
// Causes: figures are common practice, no source.
constexpr double kSameUs = 15;    // levels this close are one
constexpr double kNearUs = 40;    // this close to neutral means neutral
constexpr double kHighUs = 150;   // this far above neutral an ESC may learn ...
constexpr double kLearnMs = 300;  // ... when it lasts
constexpr std::int64_t kFirstPulses = 10;
constexpr const char* kOff = "power off";
constexpr const char* kEnd = "back to neutral";

Result<script::StickScript> compose(const script::Plan& plan, const script::PlannedCheck& check, std::uint64_t seed) {
  Sticks sticks(plan, check.name, seed);
  sticks.arm();
  const auto conditions = check.params.at("sticks").get<std::vector<std::string>>();
  const double watch = param_or(check, "watch_ms", plan.controller.boot_ms + plan.spec.arm.boot_ms + kWatchSpareMs);
  for (int cycle = 0; cycle < count_param(check, "cycles"); ++cycle) {
    const std::string& condition = conditions[static_cast<std::size_t>(cycle) % conditions.size()];
    const auto play = [&](double ms, const std::string& mark) -> script::Move& {
      if (condition == "silent") return sticks.silent(ms, mark);
      return sticks.hold(condition == "off_centre" ? 100 : 0, 0, ms, mark);
    };
    play(param(check, "off_ms"), kOff).actions = {script::ActionKind::power_off};
    play(watch, condition).actions = {script::ActionKind::power_on};
  }
  sticks.hold(0, 0, plan.frame.period_us / 1e3 * 5, kEnd);
  return sticks.take();
}

/// One power-up, as one output answered it.
struct Boot {
  const Traffic* traffic;
  Side side;
  BoardTime on, until;
  BoardTime unarmed_until;         ///< no controller may have armed before this
  bool may_be_silent{false};       ///< no pulses sent, and the spec lets outputs be silent
  std::optional<BoardTime> first;  ///< fall of the first legal neutral pulse
  std::int64_t runts{0};
  Extreme off;  ///< from neutral, before arming
  std::optional<Pulse> worst_runt;
  std::string condition;  ///< of the sticks: "neutral", "silent", "off_centre"
  // Legal pulses before arming.
  std::int64_t pulses{0}, bad{0}, bad_at_first{0};  ///< off neutral; of them, before the first right one
  double bad_low{0}, bad_high{0};                   ///< their distances from neutral, us
  double bad_until_ms{0};                           ///< the last one's fall after power-on
};

/// A legal pulse before arming, this far from neutral.
void note_level(Boot& b, const Pulse& p, double off, double allowed) {
  b.off.add(*b.traffic, p, off);
  ++b.pulses;
  if (std::abs(off) <= allowed) return;
  b.bad_low = b.bad == 0 ? off : std::min(b.bad_low, off);
  b.bad_high = b.bad == 0 ? off : std::max(b.bad_high, off);
  b.bad_at_first += b.bad + 1 == b.pulses;
  b.bad_until_ms = b.traffic->ms(p.fall - b.on);
  ++b.bad;
}

void read_pulses(const Context& c, Boot& b) {
  const Traffic& t = *b.traffic;
  const double neutral = neutral_of(c.plan, b.side), half = c.plan.spec.loss.safe_half_us;
  const double shortest = param(c.check, "legal_low_us"), ignored = param(c.check, "runt_us");
  for (const Pulse& p : t.output(b.side).within(b.on, b.until)) {
    const double us = t.us(p), u = t.width_uncertainty(p);
    if (us < shortest - u) {
      if (us <= ignored + u) continue;
      ++b.runts;
      if (!b.worst_runt) b.worst_runt = p;
      continue;
    }
    if (!b.first && std::abs(us - neutral) <= half + u) b.first = p.fall;
    if (p.fall <= b.unarmed_until) note_level(b, p, us - neutral, half + u);
  }
  // A line that went high and stayed so is one endless pulse.
  if (const auto open = t.output(b.side).open_rise(); open && *open >= b.on && t.ms(b.until - *open) > 2 * c.plan.spec.frame.period_high_ms)
    b.off.add_certain(t.us(b.until - *open) - neutral);
  for (const auto& e : t.capture().events)
    if (e.kind == capture::EventKind::unseen_runt && e.at >= b.on && e.at <= b.until && (e.value == t.line(b.side) || e.value == 255))
      ++b.runts;
}

/// With both sticks sent at neutral the controller may arm after the spec's time; else never while watched.
BoardTime unarmed_until(const Context& c, const Traffic& t, BoardTime on, BoardTime until) {
  const auto& spec = c.plan.spec;
  for (const auto& [train, in] : {std::pair{&t.throttle(), &spec.throttle}, std::pair{&t.steering(), &spec.steering}}) {
    const auto sent = train->within(on, until);
    const auto off = [&, centre = in->centre_us](const Pulse& p) { return std::abs(t.us(p) - centre) > spec.arm.neutral_half_us; };
    if (sent.empty() || std::any_of(sent.begin(), sent.end(), off)) return until;
  }
  return std::min(until, on + t.ticks_ms(spec.arm.neutral_ms));
}

/// End of the stretch that a power-up is watched: the script's next move, or the power gone earlier.
BoardTime watched_until(const Traffic& t, BoardTime on) {
  BoardTime until = t.segment().end;
  for (const char* label : {kOff, kEnd})
    for (const auto* mark : t.marks(label))
      if (mark->at > on) until = std::min(until, mark->at);
  for (const auto& e : t.capture().events)
    if (e.kind == capture::EventKind::power_off && e.at > on) until = std::min(until, e.at - t.ticks_ms(kCutMs));
  return until;
}

/// Mark of the move that began with power-on; the mark stands at the first frame in it.
std::string condition_at(const Traffic& t, BoardTime on) {
  for (const auto& m : t.segment().marks)
    if (m.at >= on - t.ticks_ms(kActionEarlyMs)) return m.label;
  return "";
}

std::vector<Boot> boots(const Context& c, const std::vector<Traffic>& all, Side side) {
  std::vector<Boot> found;
  const double half = c.plan.spec.loss.safe_half_us;
  for (const Traffic& t : all)
    for (const auto& e : t.capture().events) {
      if (e.kind != capture::EventKind::power_on || e.at < t.segment().begin || e.at > t.segment().end) continue;
      Boot b{&t, side, e.at, watched_until(t, e.at), {}, false, {}, 0, Extreme(-half, half), {}, condition_at(t, e.at)};
      b.unarmed_until = unarmed_until(c, t, b.on, b.until);
      b.may_be_silent = t.throttle().within(b.on, b.until).empty() && c.plan.spec.loss.pulses_may_stop;
      read_pulses(c, b);
      found.push_back(b);
    }
  return found;
}

void judge_first(const Context& c, const std::vector<Boot>& all, Side side, Findings& f) {
  const double limit = c.plan.spec.arm.boot_ms;
  double slowest = 0;
  bool bound = false;  // the slowest is one that never came
  std::int64_t n = 0, never = 0;
  for (const Boot& b : all) {
    if (!b.first && b.may_be_silent) continue;
    ++n;
    never += !b.first;
    const double ms = b.traffic->ms(b.first.value_or(b.until) - b.on);
    if (ms >= slowest) slowest = ms, bound = !b.first;
  }
  const auto& clock = c.capture.clock;
  const double u = span_uncertainty_us(c.capture, clock.ticks({static_cast<std::int64_t>(slowest * 1e6)}), kCommanded, 1) / 1e3;
  Measure m = measure(std::string(name(side)) + " first neutral pulse", slowest, {}, limit, u, "ms", n);
  if (never > 0) {
    withhold_pass(m);  // the watch was shorter than the limit
    if (bound) never_came(m, "none seen");
    m.note = "after " + whole(never) + " of " + whole(n) + " power-ups none came while watched";
  } else if (m.verdict == Verdict::pass) {
    m.note = "0 of " + whole(n) + " power-ups later: " + none_seen_text(n);
  }
  f.measures.push_back(std::move(m));
}

void judge_side(const Context& c, const std::vector<Boot>& all, Side side, Findings& f) {
  judge_first(c, all, side, f);
  std::int64_t with_runts = 0, legally_silent = 0;
  const double half = c.plan.spec.loss.safe_half_us;
  Extreme off(-half, half);
  for (const Boot& b : all) {
    with_runts += b.runts > 0;
    legally_silent += b.may_be_silent;
    off.merge(b.off);
  }
  const auto n = static_cast<std::int64_t>(all.size());
  f.measures.push_back(none_allowed(std::string(name(side)) + " power-ups with a runt", with_runts, n, "power-ups"));
  if (off.pulse() || legally_silent < n) f.measures.push_back(off.as_measure(std::string(name(side)) + " off neutral before arming", 1));
}

bool failing(const Boot& b) { return b.runts > 0 || b.off.failing() || (!b.first && !b.may_be_silent); }

void add_picture(const Context& c, const Boot& b, Findings& f) {
  const BoardTime end = std::min(b.until, b.on + b.traffic->ticks_ms(kShownMs));
  Picture p = time_picture(*b.traffic, b.on, end, failing(b) ? "Power-up that went wrong" : "Power-up");
  p.series.push_back(
      level(Series::Role::expected, std::string(name(b.side)) + " neutral", 0, b.traffic->ms(end - b.on), neutral_of(c.plan, b.side)));
  p.series.push_back(level(Series::Role::limit, "shortest legal pulse", 0, b.traffic->ms(end - b.on), param(c.check, "legal_low_us")));
  if (b.worst_runt) p.bands.push_back({b.traffic->ms(b.worst_runt->rise - b.on), b.traffic->ms(b.worst_runt->fall - b.on), "runt", true});
  f.pictures.push_back(std::move(p));
}

/// What went wrong on each side, then each power-up once, for both sides together.
void add_evidence(const Context& c, const std::vector<Boot>& left, const std::vector<Boot>& right, Findings& f) {
  std::vector<Span> whole_boots;
  for (std::size_t i = 0; i < std::min(left.size(), right.size()); ++i) {
    BoardTime first = left[i].on;
    for (const Boot* b : {&left[i], &right[i]}) {
      first = std::max(first, b->first.value_or(b->until));
      if (b->worst_runt && f.evidence.size() < kSpansShown)
        f.evidence.push_back(b->traffic->span(b->worst_runt->rise, b->worst_runt->fall,
                                              "runt of " + num(b->traffic->us(*b->worst_runt)) + " us on the " + name(b->side) + " output",
                                              true));
      if (const auto p = b->off.pulse(); b->off.failing() && p && f.evidence.size() < kSpansShown)
        f.evidence.push_back(b->traffic->span(p->rise, p->fall, std::string(name(b->side)) + " off neutral", true));
    }
    const bool bad = failing(left[i]) || failing(right[i]);
    if (whole_boots.size() < kSpansShown)
      whole_boots.push_back(left[i].traffic->span(left[i].on, first, "power on, " + left[i].condition, bad));
    if (f.pictures.empty() || (bad && f.pictures.size() < 2)) add_picture(c, failing(right[i]) ? right[i] : left[i], f);
  }
  f.evidence.insert(f.evidence.end(), whole_boots.begin(), whole_boots.end());
}

void name_glitch(const std::vector<Boot>& all, Findings& f) {
  std::int64_t seen = 0, before = 0;
  double width = 0, at = 0;
  for (const Boot& b : all) {
    if (b.runts == 0) continue;
    ++seen;
    if (!b.worst_runt) continue;
    before += !b.first || b.worst_runt->fall < *b.first;
    width = b.traffic->us(*b.worst_runt), at = b.traffic->ms(b.worst_runt->rise - b.on);
  }
  if (seen == 0) return;
  f.causes.push_back({"boot-glitch", before > 0 ? 0.9 : 0.5,
                      whole(seen) + " of " + whole(static_cast<std::int64_t>(all.size())) + " starts of an output with a runt, " +
                          whole(before) + " before its first legal pulse; one of " + num(width) + " us, " + num(at) +
                          " ms after power-on"});
}

void name_slow_boot(const Context& c, const std::vector<Boot>& all, Findings& f) {
  std::int64_t late = 0;
  double slowest = 0;
  for (const Boot& b : all) {
    const double ms = b.traffic->ms(b.first.value_or(b.until) - b.on);
    if (b.may_be_silent || ms <= c.plan.spec.arm.boot_ms || b.bad > 0) continue;
    ++late;
    slowest = std::max(slowest, ms);
  }
  if (late == 0) return;
  f.causes.push_back({"slow-boot", 0.9,
                      whole(late) + " of " + whole(static_cast<std::int64_t>(all.size())) +
                          " starts of an output without any pulse for up to " + num(slowest, 0) + " ms"});
}

/// What the off-neutral pulses before arming have in common: a stick position, a level, or that they come first.
void name_levels(const std::vector<Boot>& all, Findings& f) {
  std::int64_t bad = 0, off_centre = 0, steady = 0, leading = 0, pulses = 0, longest = 0;
  double low = 1e9, high = -1e9, until_ms = 0;
  for (const Boot& b : all) {
    if (b.bad == 0) continue;
    ++bad;
    off_centre += b.condition == "off_centre";
    steady += b.bad == b.pulses;
    leading += b.bad_at_first == b.bad;
    pulses += b.bad, longest = std::max(longest, b.bad);
    low = std::min(low, b.bad_low), high = std::max(high, b.bad_high);
    until_ms = std::max(until_ms, b.bad_until_ms);
  }
  if (bad == 0) return;
  const bool one_level = high - low <= kSameUs;
  const std::string told = whole(pulses) + " pulses off neutral by " + num(low, 0) + " to " + num(high, 0) + " us in " + whole(bad) +
                           " of " + whole(static_cast<std::int64_t>(all.size())) + " starts of an output";
  if (off_centre == bad && std::max(std::abs(low), std::abs(high)) > kNearUs)
    f.causes.push_back({"drives-without-neutral", 0.9, told + ", all of them with the stick off centre"});
  else if (one_level && low >= kHighUs && leading == bad && until_ms >= kLearnMs)
    f.causes.push_back(
        {"learn-mode", 0.9, told + ", the first ones, whatever the sticks do, until " + num(until_ms, 0) + " ms after power-on"});
  else if (one_level && steady == bad)
    f.causes.push_back({std::max(std::abs(low), std::abs(high)) > kNearUs ? "safe-level-wrong" : "neutral-off", 0.8,
                        told + ", all that came before arming"});
  else if (one_level && leading == bad && longest <= kFirstPulses)
    f.causes.push_back({"first-pulses-default", 0.9, told + ", at most the first " + whole(longest) + ", whatever the sticks do"});
}

void name_causes(const Context& c, const std::vector<Boot>& all, Findings& f) {
  name_glitch(all, f);
  name_slow_boot(c, all, f);
  name_levels(all, f);
}

CheckResult judge(const Context& c) {
  auto [all, stop] = open(c, 1);
  if (stop) return *stop;
  Findings f;
  const auto left = boots(c, all, Side::left), right = boots(c, all, Side::right);
  const auto asked = static_cast<std::size_t>(count_param(c.check, "cycles")) * all.size();
  if (left.size() < asked)
    return undecided(c, "only " + whole(static_cast<std::int64_t>(left.size())) + " of " + whole(static_cast<std::int64_t>(asked)) +
                            " power-ups are in the record.");
  judge_side(c, left, Side::left, f);
  judge_side(c, right, Side::right, f);
  add_evidence(c, left, right, f);
  std::vector<Boot> both = left;
  both.insert(both.end(), right.begin(), right.end());
  name_causes(c, both, f);
  f.when_passed = "At each power-up the outputs begin with neutral pulses in time, without a stray pulse, and stay at neutral.";
  f.when_failed = "An ESC may twitch, learn a wrong end, or fail to arm at power-up.";
  return conclude(c, std::move(f));
}

}  // namespace

const CheckKind kPowerUp{"power-up", "power off and on: first pulse in time, no runt, neutral until armed", compose, judge, true};

}  // namespace midstick::judge
