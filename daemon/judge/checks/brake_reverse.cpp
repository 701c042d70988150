// Brake and reverse: ahead, then back at once or after a rest at neutral, and into a turn on the spot, with an ESC on each side. While the
// sticks ask a side to go back, its ESC must come to reverse in time (an ESC that only brakes: to its brake); while they do not ask, it
// must never reverse (catalogue fault 55). Back is the ESC's: its short pulses. Figures: common practice, no source.
#include <algorithm>
#include <cmath>

#include "daemon/judge/checks/checks.hpp"
#include "daemon/judge/conclude.hpp"
#include "daemon/judge/esc_log.hpp"
#include "daemon/judge/pictures.hpp"
#include "daemon/judge/sent.hpp"
#include "daemon/judge/sticks.hpp"
#include "daemon/judge/text.hpp"
#include "daemon/judge/uncertainty.hpp"
#include "daemon/mixer/slew.hpp"

namespace midstick::judge {
namespace {

constexpr std::int64_t kNeeded = 40;  // pulses on each output
constexpr double kClearlyUs = 20;     // past the ESC's neutral band: asked beyond doubt
constexpr double kBraking = 0.5;      // share of the time asked that the ESC braked instead
constexpr std::size_t kSpansShown = 8;
constexpr const char* kAhead = "ahead";
constexpr const char* kDwell = "rest at neutral";
constexpr const char* kBack = "back";

double esc_extra_ms(const script::Plan& plan, Side s) {
  const esc::Spec e = esc_of(plan, s);
  double ms = e.slew_share > 0 ? plan.spec.frame.period_high_ms / e.slew_share : 0;
  if (e.reverse == esc::Reverse::timed) ms += e.dead_ms;
  if (e.reverse == esc::Reverse::direct && e.reverse_below_speed < 1)
    ms += e.coast_ms * std::log(1 / std::max(0.01, e.reverse_below_speed));
  return ms;
}

/// Time from asking a side to go back until its ESC must reverse, ms.
double limit_ms(const script::Plan& plan, const script::PlannedCheck& check, Side s) {
  return param(check, "reach_ms") + 1e3 * mixer::longest_slew_seconds(plan.spec) + esc_extra_ms(plan, s);
}

Result<script::StickScript> compose(const script::Plan& plan, const script::PlannedCheck& check, std::uint64_t seed) {
  Sticks sticks(plan, check.name, seed);
  sticks.arm();
  const double arming = std::max(esc_arming_ms(plan, esc_of(plan, Side::left)), esc_arming_ms(plan, esc_of(plan, Side::right)));
  sticks.hold(0, 0, arming, "ESCs arm");
  const double stick = param(check, "stick_percent"), ahead = param(check, "ahead_ms") + 1e3 * mixer::longest_slew_seconds(plan.spec);
  const double back = std::max(limit_ms(plan, check, Side::left), limit_ms(plan, check, Side::right)) + param(check, "spare_ms");
  for (const double dwell : check.params.at("dwell_ms").get<std::vector<double>>()) {
    sticks.hold(stick, 0, ahead, kAhead);
    if (dwell > 0) sticks.hold(0, 0, dwell, kDwell);
    sticks.hold(-stick, 0, back, kBack);
  }
  for (const double way : {1.0, -1.0}) {
    sticks.hold(stick, 0, ahead, kAhead);
    sticks.hold(0, way * stick, back, kBack);
  }
  sticks.hold(0, 0, param(check, "ahead_ms"), "back to neutral");
  return sticks.take();
}

/// One side asked to go back for one held stretch.
struct Ask {
  const Traffic* traffic;
  Side side;
  BoardTime from, until, reached;
  bool got{false};
  double ms{0}, uncertainty_ms{0}, braking{0};  ///< braking: share of the stretch
};

/// A stretch in which the ESC reversed although no stick position of the time before asked for it.
struct Unasked {
  const Traffic* traffic;
  Side side;
  BoardTime from, until;
  double shortest_us, asked_us;
};

/// One segment, one side.
struct Ride {
  const Traffic* traffic;
  Side side;
  std::vector<EscStretch> states;
  bool armed{false};
};

esc::State goal(const script::Plan& plan, Side s) {
  return esc_of(plan, s).reverse == esc::Reverse::brake_only ? esc::State::brake : esc::State::reverse;
}

void find_asks(const Context& c, const std::vector<Sent>& samples, const Ride& ride, std::vector<Ask>& asks) {
  const Traffic& t = *ride.traffic;
  const esc::Spec e = esc_of(c.plan, ride.side);
  for (const auto* mark : t.marks(kBack)) {
    const BoardTime end = t.end_of(*mark);
    // The frame that tells of it: the first sample after the mark that asks for it.
    const auto first = std::find_if(samples.begin(), samples.end(), [&](const Sent& s) {
      return s.fall > mark->at && s.fall < end && s.asked[static_cast<int>(ride.side)].high < e.neutral_us - e.neutral_half_us - kClearlyUs;
    });
    if (first == samples.end()) continue;
    Ask a{&t, ride.side, first->fall, end, end};
    double braked = 0;
    for (const EscStretch& s : ride.states) {
      if (s.end <= a.from || s.begin >= a.until) continue;
      if (s.state == esc::State::brake) braked += t.ms(std::min(s.end, a.until) - std::max(s.begin, a.from));
      if (s.state == goal(c.plan, ride.side) && !a.got) a.got = true, a.reached = std::max(s.begin, a.from);
    }
    a.ms = t.ms(a.reached - a.from);
    a.uncertainty_ms = span_uncertainty_us(c.capture, a.reached - a.from, kCommanded, 1) / 1e3;
    a.braking = braked / t.ms(a.until - a.from);
    asks.push_back(a);
  }
}

void find_unasked(const Context& c, const std::vector<Sent>& samples, const Ride& ride, std::vector<Unasked>& unasked) {
  const Traffic& t = *ride.traffic;
  const esc::Spec e = esc_of(c.plan, ride.side);
  const BoardSpan reach = t.ticks_ms(c.plan.spec.latency_max_ms + c.plan.spec.frame.period_high_ms + esc_extra_ms(c.plan, ride.side) +
                                     1e3 * mixer::longest_slew_seconds(c.plan.spec));
  for (const EscStretch& s : ride.states) {
    if (s.state != esc::State::reverse) continue;
    std::optional<Unasked> found;
    for (const Pulse& p : t.output(ride.side).falling_in(s.begin - t.ticks_ms(0.01), s.end - t.ticks_ms(0.01))) {
      const auto asked = asked_between(samples, ride.side, p.fall - reach, p.fall);
      if (!asked || asked->low < e.neutral_us - e.neutral_half_us + kClearlyUs) continue;
      const double us = t.us(p);
      if (!found) found = Unasked{&t, ride.side, p.rise, p.fall, us, asked->low};
      found->until = p.fall;
      found->shortest_us = std::min(found->shortest_us, us);
    }
    if (found) unasked.push_back(*found);
  }
}

void judge_side(const Context& c, const std::vector<Ask>& asks, const std::vector<Unasked>& unasked, std::int64_t rides, Side side,
                Findings& f) {
  double worst = 0, u = 0;
  std::int64_t n = 0, never = 0;
  for (const Ask& a : asks) {
    if (a.side != side) continue;
    ++n;
    never += !a.got;
    if (a.ms > worst) worst = a.ms, u = a.uncertainty_ms;
  }
  const double limit = limit_ms(c.plan, c.check, side);
  const bool brakes = goal(c.plan, side) == esc::State::brake;
  Measure m =
      measure(std::string(name(side)) + (brakes ? " ESC brakes, back asked" : " ESC in reverse, back asked"), worst, {}, limit, u, "ms", n);
  if (never > 0) m.note += (m.note.empty() ? "" : "; ") + whole(never) + " of " + whole(n) + " times it never did while asked";
  f.measures.push_back(std::move(m));
  const auto seen = std::count_if(unasked.begin(), unasked.end(), [&](const Unasked& x) { return x.side == side; });
  f.measures.push_back(
      none_allowed(std::string(name(side)) + " ESC in reverse, back not asked", seen, std::max<std::int64_t>(seen, rides), "stretches"));
}

void name_causes(const Context& c, const std::vector<Ask>& asks, const std::vector<Unasked>& unasked, Findings& f) {
  std::int64_t late = 0, braked = 0;
  double share = 0;
  for (const Ask& a : asks) {
    if (a.got && a.ms <= limit_ms(c.plan, c.check, a.side)) continue;
    ++late;
    if (goal(c.plan, a.side) == esc::State::brake || a.braking < kBraking) continue;
    ++braked, share += a.braking;
  }
  if (braked > 0)
    f.causes.push_back({"brake-swallows-reverse", 0.9 * static_cast<double>(braked) / static_cast<double>(late),
                        whole(braked) + " of " + whole(late) + " times the ESC braked instead, for " +
                            num(100 * share / static_cast<double>(braked), 0) + " % of the time that the sticks asked for reverse"});
  if (unasked.empty()) return;
  const Unasked& x = unasked.front();
  f.causes.push_back({"accidental-reverse", 0.9,
                      whole(static_cast<std::int64_t>(unasked.size())) + " times the ESC reversed unasked; first for " +
                          num(x.traffic->ms(x.until - x.from), 0) + " ms on the " + name(x.side) + ", with pulses down to " +
                          num(x.shortest_us, 0) + " us where the sticks asked for " + num(x.asked_us, 0) + " us or more"});
}

void add_picture(const Traffic& t, const Ride& left, const Ride& right, BoardTime from, BoardTime until,
                 const std::vector<Unasked>& unasked, std::string title, Findings& f) {
  const BoardTime begin = std::max(t.segment().begin, from), end = std::min(t.segment().end, until);
  Picture p = time_picture(t, begin, end, std::move(title));
  for (const Ride* r : {&left, &right})
    p.lanes.push_back(esc_lane(t, r->states, begin, end, std::string(name(r->side)) + " ESC", [&](const EscStretch& s) {
      return std::any_of(unasked.begin(), unasked.end(), [&](const Unasked& x) {
        return x.traffic == &t && x.side == r->side && x.from < s.end && x.until > s.begin && s.state == esc::State::reverse;
      });
    }));
  f.pictures.push_back(std::move(p));
}

CheckResult judge(const Context& c) {
  auto [all, stop] = open(c, kNeeded);
  if (stop) return *stop;
  std::vector<Ask> asks;
  std::vector<Unasked> unasked;
  std::vector<Ride> rides;
  for (const Traffic& t : all) {
    const auto samples = sent(c.plan, t, param(c.check, "input_us"));
    for (const Side s : kSides) {
      Ride ride{&t, s, esc_states(c.plan, t, s, t.segment().begin, t.segment().end)};
      for (const auto* mark : t.marks(kAhead))
        for (const EscStretch& x : ride.states) ride.armed = ride.armed || (x.begin < mark->at && mark->at < x.end && esc::armed(x.state));
      find_asks(c, samples, ride, asks);
      find_unasked(c, samples, ride, unasked);
      rides.push_back(std::move(ride));
    }
  }
  for (const Ride& r : rides)
    if (!r.armed)
      return undecided(
          c, std::string("the ESC on the ") + name(r.side) + " output did not arm, so it had nothing to reverse (see ESC arming).");
  std::size_t planned = 0;
  for (const Traffic& t : all) planned += t.marks(kBack).size();
  const auto wanted = (c.check.params.at("dwell_ms").size() + 2) * all.size();
  if (planned < wanted)
    return undecided(c, "the record holds only " + whole(static_cast<std::int64_t>(planned)) + " of " +
                            whole(static_cast<std::int64_t>(wanted)) + " moves back.");
  Findings f;
  for (const Side s : kSides) {
    std::int64_t stretches = 0;
    for (const Traffic& t : all) stretches += static_cast<std::int64_t>(t.marks(kAhead).size() + t.marks(kDwell).size());
    judge_side(c, asks, unasked, stretches, s, f);
  }
  std::vector<Span> good;
  for (const Ask& a : asks) {
    const bool late = !a.got || a.ms - a.uncertainty_ms > limit_ms(c.plan, c.check, a.side);
    auto& to = late ? f.evidence : good;
    if (to.size() < kSpansShown) to.push_back(a.traffic->span(a.from, a.until, std::string(name(a.side)) + " asked to go back", late));
  }
  for (const Unasked& x : unasked)
    if (f.evidence.size() < kSpansShown)
      f.evidence.push_back(x.traffic->span(x.from, x.until, std::string(name(x.side)) + " reversed unasked", true));
  f.evidence.insert(f.evidence.end(), good.begin(), good.end());
  const Traffic& t = all.front();
  if (!unasked.empty() && unasked.front().traffic == &t)
    add_picture(t, rides[0], rides[1], unasked.front().from - t.ticks_ms(500), unasked.front().until + t.ticks_ms(300), unasked,
                "Reverse that nobody asked for", f);
  const auto late = std::find_if(asks.begin(), asks.end(),
                                 [&](const Ask& a) { return a.traffic == &t && (!a.got || a.ms > limit_ms(c.plan, c.check, a.side)); });
  const Ask* shown = late != asks.end() ? &*late : asks.empty() ? nullptr : &asks.front();
  if (shown)
    add_picture(t, rides[0], rides[1], shown->from - t.ticks_ms(300), shown->until, unasked,
                late != asks.end() ? "Reverse that did not come" : "From ahead to back", f);
  add_picture(t, rides[0], rides[1], t.segment().begin, t.segment().end, unasked, "The whole check, and what the ESCs make of it", f);
  name_causes(c, asks, unasked, f);
  f.when_passed = "Whenever the sticks ask a side to go back its ESC does in time, and never otherwise.";
  f.when_failed = "The vehicle may not back away when it must, or may lurch backwards.";
  return conclude(c, std::move(f));
}

}  // namespace

const CheckKind kBrakeReverse{
    "brake-reverse", "full ahead to full reverse with a dwell at neutral: an ESC on each side brakes, then reverses", compose, judge};

}  // namespace midstick::judge
