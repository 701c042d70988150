// Runts: short highs in the gap and short lows inside the pulse, at random phase, on one channel and then the other (catalogue fault 8;
// figures common practice, no source).
//
// Highs shorter than the spec's runt must not move an output. A notch splits a pulse, and a part of it may pass for a pulse of its own; so
// the sticks are held, and the notches put, where neither part is a width that a controller may obey. It may lose that frame, and two good
// ones follow each; it must not move. The bench cannot make a level of under 20 us.
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
#include "daemon/script/percent.hpp"

namespace midstick::judge {
namespace {

constexpr std::int64_t kNeeded = 10;
constexpr double kClearUs = 100;  // a runt keeps from the pulse before and the frame's end
constexpr double kBelowUs = 20;   // parts of a split pulse stay this far below the spec's shortest
constexpr int kGoodFrames = 2;    // after each spoilt one
constexpr const char* kSteady = "steady";

struct Kind {
  bool notch, throttle;
  double us;
  std::string label() const {
    return (notch ? "notches of " : "highs of ") + num(us, 0) + " us on the " + (throttle ? "throttle" : "steering");
  }
};

/// Width held on both sticks, the steering a little longer: off centre, and split by a notch into two parts that are both too short.
struct Held {
  double throttle, steering;
};
Held held(const script::Plan& plan) {
  const auto fit = [&](const mixer::InputSpec& in, double us) {
    const double low = std::max(in.low_us, plan.spec.receiver.accept_low_us) + 50,
                 high = std::min(in.high_us, plan.spec.receiver.accept_high_us) - 50;
    const double clear = 120;  // of the centre, so that both outputs are driven
    us = std::clamp(us, low, high);
    return std::abs(us - in.centre_us) < clear ? in.centre_us - clear : us;
  };
  const double both_short = 2 * (plan.spec.receiver.reject_low_us - kBelowUs);
  return {fit(plan.spec.throttle, both_short - 60), fit(plan.spec.steering, both_short - 20)};
}

/// Where a notch may begin after the rise so that both parts are too short; nothing when there is no such place.
std::optional<std::pair<double, double>> notch_place(const script::Plan& plan, double width, double notch) {
  const double most = plan.spec.receiver.reject_low_us - kBelowUs;
  const double from = width - notch - most, to = most;
  if (from > to || from < kBelowUs) return {};
  return std::pair{from, to};
}

std::vector<Kind> kinds(const script::Plan& plan, const script::PlannedCheck& check) {
  std::vector<Kind> all;
  const Held h = held(plan);
  for (const bool throttle : {true, false}) {
    for (const auto& us : check.params.at("highs_us"))
      if (us.get<double>() < plan.spec.receiver.runt_us) all.push_back({false, throttle, us.get<double>()});
    for (const auto& us : check.params.at("notches_us"))
      if (notch_place(plan, throttle ? h.throttle : h.steering, us.get<double>())) all.push_back({true, throttle, us.get<double>()});
  }
  return all;
}

script::ChannelFault spoil(const script::Plan& plan, const script::ReceiverFrame& frame, const Kind& k) {
  const Held h = held(plan);
  const auto& in = k.throttle ? plan.spec.throttle : plan.spec.steering;
  auto fault = fault_of(in, k.notch ? script::Fault::notch : script::Fault::runt);
  const double width = k.throttle ? h.throttle : h.steering;
  fault.width_us = k.us;
  if (k.notch) {
    std::tie(fault.at_us, fault.at_to_us) = *notch_place(plan, width, k.us);
  } else {
    fault.at_us = width + kClearUs;
    fault.at_to_us = frame.period_us - frame.phase_us.at(in.name) - k.us - kClearUs;
  }
  return fault;
}

Result<script::StickScript> compose(const script::Plan& plan, const script::PlannedCheck& check, std::uint64_t seed) {
  Sticks sticks(plan, check.name, seed);
  const Held h = held(plan);
  auto frame = exact_frames(plan);
  frame.jitter_us = 0;
  frame.phase_us = {{plan.spec.throttle.name, 200}, {plan.spec.steering.name, 400 + h.throttle}};
  const double ms = frame.period_us / 1e3;
  const auto hold = [&](double for_ms, const std::string& mark) -> script::Move& {
    auto& move = sticks.hold_us(h.throttle, h.steering, for_ms, mark);
    move.frame = frame;
    return move;
  };
  sticks.arm();
  hold(3 * settled_after_ms(plan), kSteady);
  for (const Kind& k : kinds(plan, check))
    for (int i = 0; i < count_param(check, "times"); ++i) {
      hold(ms, i == 0 ? k.label() : "").faults = {spoil(plan, frame, k)};
      hold(kGoodFrames * ms, "");
    }
  sticks.hold(0, 0, settled_after_ms(plan), "back to neutral");
  return sticks.take();
}

/// How far one output went from rest with one kind of runt.
struct Answer {
  const Traffic* traffic;
  Kind kind;
  Side side;
  BoardTime begin, end;
  Departure seen;
};

std::vector<Answer> answers(const Context& c, const std::vector<Traffic>& all, Extreme (&off)[2]) {
  std::vector<Answer> found;
  for (const Traffic& t : all) {
    const auto steady = t.marks(kSteady);
    if (steady.empty()) continue;
    for (const Side s : kSides) {
      const BoardTime from = steady.front()->at + t.ticks_ms(settled_after_ms(c.plan)), to = t.end_of(*steady.front());
      const auto rest = rest_us(t, s, from, to);
      if (!rest || !driven(c.plan, t, to)) continue;
      for (const Kind& k : kinds(c.plan, c.check))
        for (const auto* mark : t.marks(k.label())) {
          const BoardTime end = t.end_of(*mark);
          found.push_back({&t, k, s, mark->at, end, departure(t, s, *rest, param(c.check, "moved_us"), mark->at, end)});
          for (const Pulse& p : t.output(s).falling_in(mark->at, end)) off[static_cast<int>(s)].add(t, p, t.us(p) - *rest);
        }
    }
  }
  return found;
}

void name_causes(const std::vector<Answer>& all, Findings& f) {
  double shortest = 1e9, longest = 0, furthest = 0;
  std::int64_t moved = 0;
  for (const Answer& a : all) {
    if (a.seen.away == 0) continue;
    ++moved;
    shortest = std::min(shortest, a.kind.us), longest = std::max(longest, a.kind.us);
    if (std::abs(a.seen.furthest_us) > std::abs(furthest)) furthest = a.seen.furthest_us;
  }
  if (moved == 0) return;
  const double fit = moved < static_cast<std::int64_t>(all.size()) ? 0.9 : 0.8;
  f.causes.push_back({"runt-pairing", fit,
                      "at rest without spikes; " + num(furthest, 0) + " us off with spikes of " + num(shortest, 0) + " to " +
                          num(longest, 0) + " us, in " + whole(moved) + " of " + whole(static_cast<std::int64_t>(all.size())) +
                          " stretches"});
}

/// Response against the width of the spike.
Picture picture(const std::vector<Answer>& all, double moved_us) {
  Picture p;
  p.title = "How far the outputs moved with spikes of each width";
  p.x_label = "width of the high or notch, us";
  p.y_label = "furthest from rest, us";
  for (const bool notch : {false, true}) {
    Series s = series(Series::Role::measured, Series::Style::dots, notch ? "notches" : "highs");
    for (const Answer& a : all)
      if (a.kind.notch == notch) point(s, a.kind.us, std::abs(a.seen.furthest_us));
    if (!s.x.empty()) p.series.push_back(std::move(s));
  }
  p.series.push_back(level(Series::Role::limit, "limit", 0, 300, moved_us));
  return p;
}

CheckResult judge(const Context& c) {
  auto [all, stop] = open(c, kNeeded);
  if (stop) return *stop;
  const double moved = param(c.check, "moved_us");
  Extreme off[2] = {Extreme(-moved, moved), Extreme(-moved, moved)};
  const auto found = answers(c, all, off);
  if (found.empty()) return undecided(c, "the outputs were not driven before the spikes came, or none came.");
  Findings f;
  for (const Side s : kSides)
    f.measures.push_back(off[static_cast<int>(s)].as_measure(std::string(name(s)) + " furthest from rest with spikes", kNeeded));
  name_causes(found, f);
  const Answer* worst = &found.front();
  for (const Answer& a : found) {
    if (std::abs(a.seen.furthest_us) > std::abs(worst->seen.furthest_us)) worst = &a;
    if (a.seen.away > 0) f.evidence.push_back(a.traffic->span(a.begin, a.end, a.kind.label() + ", " + name(a.side) + " output", true));
  }
  if (f.evidence.empty()) f.evidence.push_back(worst->traffic->span(worst->begin, worst->end, worst->kind.label(), false));
  f.pictures.push_back(picture(found, moved));
  f.pictures.push_back(time_picture(*worst->traffic, worst->begin, worst->end, "With " + worst->kind.label()));
  f.when_passed = "Spikes between the pulses and notches in them do not move the outputs.";
  f.when_failed = "Sparks and bad contacts on the receiver's lines move the vehicle.";
  return conclude(c, std::move(f));
}

}  // namespace

const CheckKind kRunts{"runts", "spikes in the gap and notches in the pulse: outputs must not move", compose, judge};

}  // namespace midstick::judge
