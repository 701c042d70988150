// Soak: over an hour at slow sticks, past the wrap of a 32-bit microsecond clock 4294.967 s after power-on, with a loss of signal before
// the wrap and one across it. No uncommanded stop, no wrong pulse, no stuck output, and both losses answered (catalogue fault 2, common
// practice, no source; 2^32 us is 4294.967296 s).
//
// The check switches the controller's power itself, so that the wrap comes at a known time of the controller's clock; `clock_percent` says
// how far that clock is off, else the loss may miss the wrap by half a percent of it, 21 s. Uncommanded stops are found whenever they come.
#include <algorithm>
#include <cmath>
#include <optional>

#include "daemon/judge/checks/checks.hpp"
#include "daemon/judge/conclude.hpp"
#include "daemon/judge/extreme.hpp"
#include "daemon/judge/holds.hpp"
#include "daemon/judge/pictures.hpp"
#include "daemon/judge/safe.hpp"
#include "daemon/judge/sticks.hpp"
#include "daemon/judge/text.hpp"
#include "daemon/judge/uncertainty.hpp"
#include "daemon/mixer/model.hpp"
#include "daemon/script/percent.hpp"

namespace midstick::judge {
namespace {

constexpr std::int64_t kNeeded = 100;
constexpr double kOffMs = 500, kBootMs = 1000;    // without power; then at neutral until it must have booted, before arming
constexpr double kLossMs = 300, kDriveMs = 1000;  // beyond the time to safe; driving before a loss
constexpr double kBeforeWrapMs = 120;             // a loss begins so long before the wrap: within every usual loss timeout of it
constexpr double kPastWrapS = 10;                 // to be watched beyond the wrap
constexpr double kNearWrapS = 30;                 // a stop this near the wrap is its doing
constexpr double kClearUs = 50;                   // a position asks for driving from here
constexpr std::size_t kSpansShown = 10;
constexpr const char* kEarlyLoss = "loss before the wrap";
constexpr const char* kWrapLoss = "loss across the wrap";

double wrap_ms(const script::PlannedCheck& check) { return param(check, "wrap_s") * 1e3 * (1 + param(check, "clock_percent") / 100); }

/// Slow sticks: a new position every hold_s, drawn in whole percent; one move with many points.
void wander(Sticks& sticks, const script::Plan& plan, const script::PlannedCheck& check, script::Draw& draw, double ms) {
  const double rest = whole_frames_ms(plan, param(check, "hold_s") * 1e3);
  const int points = static_cast<int>(ms / rest);
  if (points > 0) {
    script::Move& move = sticks.hold(0, 0, points * rest, "sticks");
    move.kind = script::Move::Kind::points;
    move.point_ms = rest;
    for (int i = 0; i < points; ++i)
      move.points.push_back(
          {{plan.spec.throttle.name, script::width_of_percent(plan.spec.throttle, static_cast<double>(draw.within(-60, 90)))},
           {plan.spec.steering.name, script::width_of_percent(plan.spec.steering, static_cast<double>(draw.within(-70, 70)))}});
  }
  if (ms - points * rest >= plan.frame.period_us / 1e3) sticks.hold(40, 0, ms - points * rest, "sticks");
}

Result<script::StickScript> compose(const script::Plan& plan, const script::PlannedCheck& check, std::uint64_t seed) {
  Sticks sticks(plan, check.name, seed);
  script::Draw draw(seed);
  const double total = param(check, "for_s") * 1e3, wrap = wrap_ms(check), lost = plan.spec.loss.safe_within_ms + kLossMs;
  sticks.arm();
  sticks.silent(kOffMs, "power off").actions = {script::ActionKind::power_off};
  // From here on `at` counts from power-on.
  double at = 0;
  const auto spent = [&at](script::Move& move) -> script::Move& {
    at += move.for_ms;
    return move;
  };
  spent(sticks.hold(0, 0, kBootMs + plan.spec.arm.neutral_ms + kArmMarginMs, "power on")).actions = {script::ActionKind::power_on};
  const auto lose = [&](const char* mark) {
    spent(sticks.silent(lost, mark));
    spent(sticks.hold(0, 0, plan.spec.arm.neutral_ms + kArmMarginMs, "neutral"));
  };
  const auto until = [&](double ms) {  // slow sticks, then a steady drive that ends at `ms`
    if (ms - kDriveMs > at)
      wander(sticks, plan, check, draw, std::floor((ms - kDriveMs - at) / (plan.frame.period_us / 1e3)) * plan.frame.period_us / 1e3);
    at = std::max(at, ms - kDriveMs);
    sticks.hold(60, 20, ms - at, "drive");
    at = ms;
  };
  const double end = std::max(total, at + lost + 4 * kDriveMs);
  const bool reaches = end > wrap + kPastWrapS * 1e3;
  until(std::max(at + kDriveMs, (reaches ? wrap : end) / 2));
  lose(kEarlyLoss);
  if (reaches) {
    until(wrap - kBeforeWrapMs);
    lose(kWrapLoss);
  }
  if (end > at) wander(sticks, plan, check, draw, end - at);
  sticks.hold(0, 0, kDriveMs, "back to neutral");
  return sticks.take();
}

struct Wrong {
  const Traffic* traffic;
  Side side;
  BoardTime begin, end;
  std::int64_t pulses{0};
  bool stopped{true};  ///< all at neutral where the sticks asked for driving
  double off{0};       ///< furthest
};

struct SideNumbers {
  std::int64_t pulses{0}, off{0};
  double longest_gap_ms{0};
  std::vector<Wrong> wrong;  ///< stretches of pulses off one after another
};

void judge_hold(const Context& c, const Traffic& t, const Hold& h, Side side, SideNumbers& n) {
  const double tolerance = param(c.check, "tolerance_us"), neutral = neutral_of(c.plan, side);
  const auto range = mixer::expected_within(c.plan.spec, h.throttle_us, h.steering_us, param(c.check, "input_us") + h.half_us);
  const auto want = side == Side::left ? range.left : range.right;
  const bool drives = std::max(std::abs(want.low - neutral), std::abs(want.high - neutral)) > kClearUs;
  const auto begin = h.begin + t.ticks_ms(param(c.check, "settle_ms"));
  BoardTime last_good = begin;
  const Pulse* previous = nullptr;
  for (const Pulse& p : t.output(side).within(begin, h.end)) {
    ++n.pulses;
    if (previous) n.longest_gap_ms = std::max(n.longest_gap_ms, t.ms(p.rise - previous->rise));
    previous = &p;
    const double us = t.us(p), off = us > want.high ? us - want.high : us < want.low ? us - want.low : 0;
    if (std::abs(off) <= tolerance + t.width_uncertainty(p)) {
      last_good = p.fall;
      continue;
    }
    ++n.off;
    const bool stopped = drives && std::abs(us - neutral) <= c.plan.spec.loss.safe_half_us + t.width_uncertainty(p);
    if (n.wrong.empty() || n.wrong.back().traffic != &t || n.wrong.back().end < last_good) n.wrong.push_back({&t, side, p.rise, p.fall});
    Wrong& w = n.wrong.back();
    w.end = p.fall, ++w.pulses, w.stopped = w.stopped && stopped;
    if (std::abs(off) > std::abs(w.off)) w.off = off;
  }
}

/// One loss as both outputs answered it.
struct Loss {
  const Traffic* traffic{nullptr};
  BoardTime from, until;
  bool reached{true};
  double safe_ms{0}, uncertainty_ms{0};
};

std::optional<Loss> loss_at(const Context& c, const Traffic& t, const char* label) {
  const auto marks = t.marks(label);
  if (marks.empty() || !driven(c.plan, t, marks.front()->at)) return {};
  const Pulse *throttle = last_valid(t, t.throttle(), marks.front()->at), *steering = last_valid(t, t.steering(), marks.front()->at);
  if (!throttle || !steering) return {};
  Loss l{&t, std::min(throttle->fall, steering->fall), t.end_of(*marks.front())};
  for (const Side s : kSides) {
    const SafeWatch w = watch_safe(c.plan, t, s, l.from, l.until, NAN, 0);
    l.reached = l.reached && w.safe_at;
    const BoardSpan took = w.safe_at.value_or(l.until) - l.from;
    l.safe_ms = std::max(l.safe_ms, t.ms(took));
    l.uncertainty_ms = std::max(l.uncertainty_ms, span_uncertainty_us(t.capture(), took, kCommanded, w.safe_half) / 1e3);
  }
  return l;
}

std::optional<BoardTime> wrap_of(const Context& c, const Traffic& t) {
  std::optional<BoardTime> on;
  for (const auto& e : c.capture.events)
    if (e.kind == capture::EventKind::power_on && e.at >= t.segment().begin && e.at <= t.segment().end) on = e.at;
  if (!on) return {};
  return *on + c.capture.clock.ticks({static_cast<std::int64_t>(wrap_ms(c.check) * 1e6)});
}

Measure loss_measure(const Context& c, const std::string& name, const std::optional<Loss>& l) {
  Measure m =
      measure("time to safe, " + name, l ? l->safe_ms : 0, {}, c.plan.spec.loss.safe_within_ms, l ? l->uncertainty_ms : 0, "ms", l ? 1 : 0);
  if (!l) m.note = "the outputs were not driven when the signal went, or it never went";
  if (l && !l->reached) {
    never_came(m, kNeverSafe);
    m.note = "not safe when the watch ended";
  }
  return m;
}

/// Runs of wrong pulses, and losses, near the wrap: what only a wrap explains.
void name_cause(const Context& c, const std::vector<Wrong>& wrong, std::optional<BoardTime> wrap, const Measure* early,
                const Measure* across, Findings& f) {
  if (!wrap) return;
  const BoardSpan near = c.capture.clock.ticks({static_cast<std::int64_t>(kNearWrapS * 1e9)});
  const auto at_wrap =
      std::count_if(wrong.begin(), wrong.end(), [&](const Wrong& w) { return w.begin < *wrap + near && *wrap < w.end + near; });
  const bool ignored = early && across && early->verdict == Verdict::pass && across->verdict == Verdict::fail;
  if (at_wrap == 0 && !ignored) return;
  const double share = wrong.empty() ? 1 : static_cast<double>(at_wrap) / static_cast<double>(wrong.size());
  f.causes.push_back(
      {"clock-wrap", 0.4 + 0.55 * std::max(share, ignored ? 1.0 : 0.0),
       (ignored ? std::string("a loss across the wrap at ")
                : whole(at_wrap) + " of " + whole(static_cast<std::int64_t>(wrong.size())) + " wrong stretches lie at the wrap, ") +
           num(param(c.check, "wrap_s")) + " s after power-on" + (ignored ? ", was not answered, the same loss before it was" : "")});
}

void show(std::vector<Wrong> wrong, const std::vector<Traffic>& all, const std::optional<Loss>& across, bool loss_fails, Findings& f) {
  std::stable_sort(wrong.begin(), wrong.end(), [](const Wrong& a, const Wrong& b) { return a.pulses > b.pulses; });
  for (std::size_t i = 0; i < std::min(wrong.size(), kSpansShown); ++i) {
    const Wrong& w = wrong[i];
    f.evidence.push_back(w.traffic->span(w.begin, w.end,
                                         std::string(name(w.side)) +
                                             (w.stopped ? " stopped without being told, " : " off by " + num(w.off) + " us, ") +
                                             whole(w.pulses) + " pulses",
                                         true));
    f.evidence.back().severity = static_cast<double>(w.pulses);
  }
  const Traffic& t = all.front();
  BoardTime at = across ? across->from : t.segment().begin;
  if (across) f.evidence.push_back(across->traffic->span(across->from, across->until, kWrapLoss, loss_fails));
  f.evidence.push_back(t.span(t.segment().begin, t.segment().end, "the whole soak", false));
  if (!across)
    for (const auto* mark : t.marks(kEarlyLoss)) at = mark->at;
  if (!wrong.empty()) at = wrong.front().begin;
  const BoardSpan side = t.ticks_ms(2000);
  f.pictures.push_back(time_picture(t, std::max(t.segment().begin, at - side), std::min(t.segment().end, at + side),
                                    !wrong.empty() ? "Around the longest wrong stretch"
                                    : across       ? "Around the wrap"
                                                   : "Around the loss"));
}

CheckResult judge(const Context& c) {
  auto [all, stop] = open(c, kNeeded);
  if (stop) return *stop;
  Findings f;
  std::vector<Wrong> wrong;
  for (const Side s : kSides) {
    SideNumbers n;
    for (const Traffic& t : all)
      for (const Hold& h : holds(t, still_us(c.plan, c.check))) judge_hold(c, t, h, s, n);
    const std::string who = name(s);
    f.measures.push_back(none_allowed(who + " pulses off", n.off, n.pulses, "pulses", kNeeded));
    const double u = span_uncertainty_us(c.capture, c.capture.clock.ticks({static_cast<std::int64_t>(n.longest_gap_ms * 1e6)}), 1, 1) / 1e3;
    f.measures.push_back(measure(who + " longest time between pulses", n.longest_gap_ms, {}, 2 * c.plan.spec.frame.period_high_ms, u, "ms",
                                 n.pulses, kNeeded));
    wrong.insert(wrong.end(), n.wrong.begin(), n.wrong.end());
  }
  const auto early = loss_at(c, all.front(), kEarlyLoss), across = loss_at(c, all.front(), kWrapLoss);
  const auto wrap = wrap_of(c, all.front());
  f.measures.push_back(loss_measure(c, kEarlyLoss, early));
  const double past = wrap ? c.capture.clock.us(all.front().segment().end - *wrap) / 1e6 : 0;
  f.measures.push_back(measure("watched past the wrap", past, kPastWrapS, {}, 0, "s", wrap ? 1 : 0));
  if (f.measures.back().verdict == Verdict::fail) {
    withhold(f.measures.back());
    f.measures.back().note = "the soak is too short to reach the wrap; needed are " + num(param(c.check, "wrap_s") + kPastWrapS, 0) + " s";
  } else {
    f.measures.push_back(loss_measure(c, kWrapLoss, across));
  }
  const bool loss_fails = f.measures.back().verdict == Verdict::fail;
  name_cause(c, wrong, wrap, &f.measures[4], f.measures.size() > 6 ? &f.measures[6] : nullptr, f);
  show(std::move(wrong), all, across, loss_fails, f);
  f.when_passed = "For " + num(c.capture.clock.us(all.front().segment().end - all.front().segment().begin) / 60e6, 0) +
                  " min, past the wrap of a 32-bit microsecond clock, every pulse was as asked and both losses were answered.";
  f.when_failed = "After a long time at the sticks the vehicle stops by itself, or does not stop when its link is lost.";
  return conclude(c, std::move(f));
}

}  // namespace

const CheckKind kSoak{"soak", "at the sticks for over an hour, past the wrap of a 32-bit microsecond clock", compose, judge};

}  // namespace midstick::judge
