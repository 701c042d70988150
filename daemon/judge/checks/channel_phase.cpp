// Channel phase: both sticks step while the two channels come in every order and overlap (catalogue faults 5, 7; figures common practice,
// no source).
//
// For each phase the two outputs are compared with what the model answers to the new positions of both sticks, and to the old position of
// one or both: the nearest says which stick the controller has seen. A stick not seen for two receiver frames and the latency is stale.
#include <algorithm>
#include <cmath>

#include "daemon/judge/checks/checks.hpp"
#include "daemon/judge/conclude.hpp"
#include "daemon/judge/pictures.hpp"
#include "daemon/judge/safe.hpp"
#include "daemon/judge/steady.hpp"
#include "daemon/judge/sticks.hpp"
#include "daemon/judge/text.hpp"
#include "daemon/judge/uncertainty.hpp"
#include "daemon/mixer/model.hpp"
#include "daemon/script/percent.hpp"

namespace midstick::judge {
namespace {

constexpr std::int64_t kNeeded = 10;
constexpr double kFirst[2] = {20, 0}, kSecond[2] = {45, 25};  // percent, throttle and steering: in no law's saturation
constexpr double kBaseUs = 1500;                              // rise of the throttle where the steering is placed around it
constexpr double kTellUs = 30;                                // two answers nearer than this cannot be told apart
constexpr double kLongestSkewMs = 3;                          // between the two sides of one frame
constexpr int kNearUs = 3;                                    // offsets of 1 us up to this
constexpr double kSpreadFrames = 1.5;                         // receiver frames between the soonest and the latest answer
constexpr std::size_t kNamed = 6;                             // phases in a reason
constexpr const char* kBlock = "drive";

struct Phase {
  std::string label;
  script::ReceiverFrame frame;
};

script::ReceiverFrame ordered(const script::Plan& plan, script::ReceiverFrame::Order order) {
  auto frame = plan.frame;
  frame.phase_us.clear(), frame.order = order;
  return frame;
}

std::vector<Phase> orders(const script::Plan& plan) {
  using Order = script::ReceiverFrame::Order;
  return {{"one after another", ordered(plan, Order::sequential)},
          {"the same backwards", ordered(plan, Order::reversed)},
          {"rising together", ordered(plan, Order::simultaneous)},
          {"overlapping", ordered(plan, Order::overlapping)}};
}

std::vector<Phase> offsets(const script::Plan& plan, const script::PlannedCheck& check) {
  std::vector<Phase> all;
  const auto at = [&](double offset) {
    auto frame = ordered(plan, script::ReceiverFrame::Order::sequential);
    frame.phase_us = {{plan.spec.throttle.name, kBaseUs}, {plan.spec.steering.name, kBaseUs + offset}};
    all.push_back({"steering " + num(offset, 0) + " us after throttle", frame});
  };
  const double step = param(check, "offset_step_us");
  for (double offset = -500; offset <= 500; offset += step) at(offset);
  for (int offset = -kNearUs; offset <= kNearUs; ++offset) at(offset);
  return all;
}

std::string drift_label(double us) { return "steering drifting by " + num(us, 0) + " us a frame"; }

double stale_after_ms(const script::Plan& plan) {
  const double slew = settled_after_ms(plan) - settled_after_ms(plan, 0);
  return 2 * plan.frame.period_us / 1e3 + plan.spec.latency_max_ms + slew;
}
double hold_ms(const script::Plan& plan) { return whole_frames_ms(plan, stale_after_ms(plan) + 3 * plan.spec.frame.period_high_ms); }

Result<script::StickScript> compose(const script::Plan& plan, const script::PlannedCheck& check, std::uint64_t seed) {
  Sticks sticks(plan, check.name, seed);
  const double ms = hold_ms(plan);
  bool second = false;
  const auto begin = [&] { sticks.arm().hold(kFirst[0], kFirst[1], 2 * ms, kBlock), second = false; };
  for (const auto& block : {orders(plan), offsets(plan, check)}) {
    begin();
    for (const Phase& p : block) {
      second = !second;
      const double* to = second ? kSecond : kFirst;
      sticks.hold(to[0], to[1], ms, p.label).frame = p.frame;
    }
  }
  const double drift = param(check, "drift_us");
  begin();
  auto& move = sticks.hold(kFirst[0], kFirst[1], ms, drift_label(drift));
  move.frame = ordered(plan, script::ReceiverFrame::Order::sequential);
  move.frame->drift_us = {{plan.spec.steering.name, drift}};
  move.kind = script::Move::Kind::points, move.point_ms = ms;
  const int steps = static_cast<int>(std::ceil(plan.frame.period_us / drift * plan.frame.period_us / 1e3 / ms));  // once round the frame
  for (int i = 0; i < steps; ++i) {
    const double* to = i % 2 ? kFirst : kSecond;
    move.points.push_back({{plan.spec.throttle.name, script::width_of_percent(plan.spec.throttle, to[0])},
                           {plan.spec.steering.name, script::width_of_percent(plan.spec.steering, to[1])}});
  }
  sticks.hold(0, 0, ms, "back to neutral");
  return sticks.take();
}

/// Which positions of the sticks the outputs answer to.
enum class Seen { both, old_throttle, old_steering, old_both, neutral };
constexpr const char* kSeenText[] = {"both sticks seen", "throttle stale", "steering stale", "both sticks stale", "link taken for lost"};

struct Pair {
  double us[2];
};

/// The answers that the outputs are compared with; not told apart where the spec gives two that are too near.
struct Answers {
  Pair at[5];
  bool told_apart{true};

  Seen nearest(const Pair& seen) const {
    int best = 0;
    for (int i = 1; i < 5; ++i)
      if (distance(at[i], seen) < distance(at[best], seen)) best = i;
    return static_cast<Seen>(best);
  }
  static double distance(const Pair& a, const Pair& b) { return std::hypot(a.us[0] - b.us[0], a.us[1] - b.us[1]); }
};

Answers answers(const script::Plan& plan, const double (&from)[2], const double (&to)[2]) {
  const auto ask = [&](double throttle, double steering) {
    const auto y = mixer::expected(plan.spec, throttle, steering);
    return Pair{{y.left_us, y.right_us}};
  };
  Answers a{{ask(to[0], to[1]),
             ask(from[0], to[1]),
             ask(to[0], from[1]),
             ask(from[0], from[1]),
             {{neutral_of(plan, Side::left), neutral_of(plan, Side::right)}}},
            true};
  for (int i = 1; i < 5; ++i) a.told_apart = a.told_apart && Answers::distance(a.at[0], a.at[i]) >= kTellUs;
  return a;
}

/// One step of both sticks in one phase.
struct Step {
  const Traffic* traffic;
  std::string label;
  BoardTime begin, known, end;  ///< mark; fall of the first pulse by which both new positions were sent; end of the hold
  Seen at_end{Seen::both};
  double late_ms{0};  ///< from `known` to the last pulse that did not answer to both new positions
};

/// The fall of an input's first pulse at its new width, which it keeps to `end`; its width in `us`.
std::optional<BoardTime> first_new(const Traffic& t, const PulseTrain& input, BoardTime begin, BoardTime end, double old_us, double& us) {
  const Pulse* last = input.last_fallen(end);
  if (!last || last->fall <= begin) return {};
  us = t.us(*last);
  for (const Pulse& p : input.falling_in(begin, end))
    if (std::abs(t.us(p) - us) < std::abs(t.us(p) - old_us)) return p.fall;
  return {};
}

std::optional<Step> watch(const Context& c, const Traffic& t, const capture::Mark& mark) {
  const BoardTime end = t.end_of(mark);
  const Pulse* throttle = last_valid(t, t.throttle(), mark.at);
  const Pulse* steering = last_valid(t, t.steering(), mark.at);
  if (!throttle || !steering) return {};
  const double from[2] = {t.us(*throttle), t.us(*steering)};
  double to[2] = {0, 0};
  const auto a = first_new(t, t.throttle(), mark.at, end, from[0], to[0]), b = first_new(t, t.steering(), mark.at, end, from[1], to[1]);
  if (!a || !b) return {};
  const Answers answer = answers(c.plan, from, to);
  if (!answer.told_apart) return {};
  Step s{&t, mark.label, mark.at, std::max(*a, *b), end, Seen::old_both, 0};
  for (const Pulse& left : t.output(Side::left).falling_in(mark.at, end)) {
    // The right pulse of the same frame, or the newest before: sides apart are another check's matter.
    const Pulse* right = t.output(Side::right).last_fallen(left.fall + t.ticks_ms(kLongestSkewMs));
    if (!right) continue;
    s.at_end = answer.nearest({{t.us(left), t.us(*right)}});
    if (s.at_end != Seen::both && left.fall > s.known) s.late_ms = t.ms(left.fall - s.known);
  }
  return s;
}

/// Steps of each block; a block that lost the link has nothing more to say after that.
std::vector<Step> steps(const Context& c, const std::vector<Traffic>& all) {
  std::vector<Step> found;
  for (const Traffic& t : all) {
    bool live = false;
    for (const auto& mark : t.segment().marks) {
      if (mark.label == "arm" || mark.label == "back to neutral") live = false;
      if (mark.label == kBlock) live = driven(c.plan, t, t.end_of(mark));
      if (!live || mark.label == kBlock || mark.label == "arm") continue;
      if (const auto s = watch(c, t, mark)) {
        found.push_back(*s);
        live = s->at_end != Seen::neutral;
      }
    }
  }
  return found;
}

/// Phases in which a stick is never seen, but not the plainest: the channels hide one another. Late by anything from little to frames, in
/// whatever phase: the program waits for one channel while the other passes. Late by the same everywhere is neither.
void name_causes(const Context& c, const std::vector<Step>& all, Findings& f) {
  const double limit = stale_after_ms(c.plan), frame = c.plan.frame.period_us / 1e3;
  std::string hidden;
  std::int64_t lost = 0, late = 0;
  std::size_t named = 0;
  bool plainest = false;
  double least = 1e9, most = 0;
  for (const Step& s : all) {
    if (s.at_end != Seen::both) {
      ++lost;
      plainest = plainest || s.label == orders(c.plan).front().label;
      if (++named <= kNamed) hidden += (hidden.empty() ? "" : "; ") + s.label + ": " + kSeenText[static_cast<int>(s.at_end)];
      continue;
    }
    late += s.late_ms > limit;
    least = std::min(least, s.late_ms), most = std::max(most, s.late_ms);
  }
  const std::string of = " of " + whole(static_cast<std::int64_t>(all.size())) + " steps ";
  if (lost > 0 && !plainest)
    f.causes.push_back(
        {"phase-dependent", 0.9, whole(lost) + of + "never seen, none with the channels one after another (" + hidden + ")"});
  if (late > 0 && most - least > kSpreadFrames * frame)
    f.causes.push_back({"blocking-read", lost > 0 ? 0.4 : 0.8,
                        whole(late) + of + "seen too late, " + num(least, 0) + " to " + num(most, 0) +
                            " ms after they were sent: more than a frame apart"});
}

CheckResult judge(const Context& c) {
  auto [all, stop] = open(c, kNeeded);
  if (stop) return *stop;
  const auto found = steps(c, all);
  if (found.empty())
    return undecided(c, "the outputs were not driven when the phases changed, or the spec's answers cannot be told apart.");
  const double limit = stale_after_ms(c.plan);
  Findings f;
  const Step* worst = &found.front();
  std::int64_t stale = 0;
  for (const Step& s : found) {
    stale += s.at_end != Seen::both;
    if (s.late_ms > worst->late_ms) worst = &s;
    const bool failing = s.at_end != Seen::both || s.late_ms > limit;
    if (failing || f.evidence.empty())
      f.evidence.push_back(s.traffic->span(s.begin, s.end, s.label + ": " + kSeenText[static_cast<int>(s.at_end)], failing));
  }
  const auto n = static_cast<std::int64_t>(found.size());
  const double u = span_uncertainty_us(worst->traffic->capture(), worst->traffic->ticks_ms(worst->late_ms), kCommanded, 1) / 1e3;
  f.measures.push_back(none_allowed("phases that hide a stick", stale, n, "steps", kNeeded));
  f.measures.push_back(measure("longest time with a stale stick", worst->late_ms, {}, limit, u, "ms", n, kNeeded));
  f.measures.back().note += (f.measures.back().note.empty() ? "" : "; ") + ("slowest: " + worst->label);
  name_causes(c, found, f);
  Picture p = time_picture(*worst->traffic, worst->begin, worst->end, "The slowest phase: " + worst->label);
  p.bands.push_back({worst->traffic->ms(worst->known - worst->begin), worst->traffic->ms(worst->known - worst->begin) + worst->late_ms,
                     "stale", worst->late_ms > limit});
  f.pictures.push_back(std::move(p));
  f.when_passed = "In every order and overlap of the two channels both sticks are seen in time.";
  f.when_failed = "Whether the vehicle answers a stick depends on how its receiver sends the channels.";
  return conclude(c, std::move(f));
}

}  // namespace

const CheckKind kChannelPhase{"channel-phase", "channels in every order and overlap: no phase may hide one", compose, judge};

}  // namespace midstick::judge
