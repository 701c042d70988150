// What must hold for every script: RapidCheck draws scripts, playable or not. It prints the seed and the smallest script that fails.
#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <algorithm>
#include <cmath>

#include "tests/script/timelines.hpp"

namespace midstick::script {
namespace {

double range(double low, double high) { return low + (high - low) * *rc::gen::inRange(0, 10001) / 10000.0; }

ControllerDescription controller(std::size_t inputs) {
  ControllerDescription out;
  for (std::size_t i = 0; i < inputs; ++i) {
    const auto line = static_cast<std::uint8_t>(inputs - 1 - i);  // wired crosswise, so that line and place differ
    out.inputs.push_back({"in" + std::to_string(i), "S" + std::to_string(line + 1), line, 0, 0});
  }
  return out;
}

std::map<std::string, double> positions(const ControllerDescription& of) {
  std::map<std::string, double> out;
  for (const auto& pin : of.inputs)
    if (*rc::gen::inRange(0, 4) > 0) out[pin.name] = range(800, 2200);
  return out;
}

ReceiverFrame frame(const ControllerDescription& of) {
  ReceiverFrame out;
  out.period_us = range(16000, 30000);
  if (*rc::gen::arbitrary<bool>()) out.dither_us = range(0, 60);
  if (*rc::gen::arbitrary<bool>()) out.jitter_us = range(0, 5);
  using Order = ReceiverFrame::Order;
  out.order = *rc::gen::element(Order::sequential, Order::reversed, Order::simultaneous, Order::overlapping);
  out.overlap_us = range(0, 700);
  for (const auto& pin : of.inputs) {
    if (*rc::gen::inRange(0, 3) == 0) out.phase_us[pin.name] = range(0, 9000);
    if (*rc::gen::inRange(0, 5) == 0) out.drift_us[pin.name] = range(-3000, 3000);
  }
  return out;
}

ChannelFault fault(const ControllerDescription& of) {
  ChannelFault out;
  out.input = of.inputs[static_cast<std::size_t>(*rc::gen::inRange(0, static_cast<int>(of.inputs.size())))].name;
  out.fault = *rc::gen::element(Fault::drop, Fault::stuck_low, Fault::stuck_high, Fault::runt, Fault::notch, Fault::cut, Fault::storm);
  out.at_us = range(1, out.fault == Fault::cut || out.fault == Fault::notch ? 900 : 6000);
  if (*rc::gen::arbitrary<bool>()) out.at_to_us = range(1, 6000);
  if (*rc::gen::arbitrary<bool>()) out.share = range(0, 1);
  out.width_us = range(out.fault == Fault::storm ? 20 : 1, 60);
  out.for_us = range(60, 1000);
  return out;
}

Move move(const ControllerDescription& of, bool faults) {
  Move out;
  out.kind = *rc::gen::element(Move::Kind::hold, Move::Kind::ramp, Move::Kind::sine, Move::Kind::points);
  out.for_ms = range(31, 200);
  out.point_ms = range(31, 90);
  out.from = positions(of);
  out.to = positions(of);
  out.mark = "m";
  for (const auto& [input, width] : out.from) out.amplitude_us[input] = range(0, 100);
  const int points = *rc::gen::inRange(1, 5);
  for (int i = 0; i < points; ++i) out.points.push_back(positions(of));
  const int count = faults ? *rc::gen::inRange(0, 3) : 0;
  for (int i = 0; i < count; ++i) out.faults.push_back(fault(of));
  if (faults && *rc::gen::inRange(0, 4) == 0) out.frame = frame(of);
  return out;
}

struct Drawn {
  ControllerDescription controller;
  StickScript script;
};

Drawn drawn(bool faults) {
  Drawn out;
  out.controller = controller(static_cast<std::size_t>(*rc::gen::inRange(1, 7)));
  out.script.frame = frame(out.controller);
  out.script.seed = *rc::gen::arbitrary<std::uint32_t>();
  const int moves = *rc::gen::inRange(1, 6);
  for (int i = 0; i < moves; ++i) out.script.moves.push_back(move(out.controller, faults));
  return out;
}

bool same(const Timeline& a, const Timeline& b) {
  return a.length == b.length && std::ranges::equal(a.edges, b.edges, [](const PlannedEdge& x, const PlannedEdge& y) {
           return x.at == y.at && x.line == y.line && x.level == y.level;
         });
}

void expect_well_formed(const Timeline& timeline) {
  RC_ASSERT(std::ranges::is_sorted(timeline.edges, {}, [](const PlannedEdge& e) { return e.at; }));
  std::map<int, PlannedEdge> last;
  for (const PlannedEdge& edge : timeline.edges) {
    RC_ASSERT(edge.at.count >= 0);
    RC_ASSERT(edge.at.count <= timeline.length.count);
    const auto before = last.find(edge.line);
    RC_ASSERT(edge.level == (before == last.end() || !before->second.level));
    if (before != last.end()) RC_ASSERT(edge.at.count - before->second.at.count >= 1000);  // 1 us
    last[edge.line] = edge;
  }
  for (const auto& [line, edge] : last) RC_ASSERT(!edge.level);
  RC_ASSERT(std::ranges::is_sorted(timeline.marks, {}, [](const PlannedMark& m) { return m.at; }));
}

RC_GTEST_PROP(CompileProperty, EveryTimelineIsInOrderAlternatesAndEndsLow, ()) {
  const Drawn d = drawn(true);
  const auto timeline = compile(d.script, d.controller, 1);
  RC_PRE(timeline.ok());
  RC_CLASSIFY(std::ranges::any_of(d.script.moves, [](const Move& m) { return !m.faults.empty(); }), "with faults");
  expect_well_formed(*timeline);
}

RC_GTEST_PROP(CompileProperty, SameScriptAndSeedGiveTheSameTimeline, ()) {
  const Drawn d = drawn(true);
  const auto seed = *rc::gen::arbitrary<std::uint64_t>();
  const auto timeline = compile(d.script, d.controller, seed);
  RC_PRE(timeline.ok());
  RC_ASSERT(same(*timeline, *compile(d.script, d.controller, seed)));
}

RC_GTEST_PROP(CompileProperty, WithoutFaultsEachFrameHasOnePulseOfEveryInput, ()) {
  const Drawn d = drawn(false);
  const auto timeline = compile(d.script, d.controller, 1);
  RC_PRE(timeline.ok());
  const double shortest = d.script.frame.period_us - d.script.frame.dither_us,
               longest = d.script.frame.period_us + d.script.frame.dither_us;
  const auto frames = pulses(*timeline, 0).size();
  for (const auto& pin : d.controller.inputs) RC_ASSERT(pulses(*timeline, pin.line_no).size() == frames);
  const double length_us = static_cast<double>(timeline->length.count) / 1e3, n = static_cast<double>(frames);
  RC_ASSERT(length_us >= n * shortest - 1);
  RC_ASSERT(length_us <= n * longest + 1);
}

RC_GTEST_PROP(CompileProperty, HeldWidthsAreSentWithinTheJitter, ()) {
  Drawn d = drawn(false);
  d.script.moves.resize(1);
  d.script.moves[0].kind = Move::Kind::hold;
  const auto timeline = compile(d.script, d.controller, 1);
  RC_PRE(timeline.ok());
  const double half_ns = d.script.frame.jitter_us * 1e3 + 1;
  for (const auto& pin : d.controller.inputs) {
    const auto& from = d.script.moves[0].from;
    const double wanted_ns = (from.contains(pin.name) ? from.at(pin.name) : 1500.0) * 1e3;
    for (const Pulse& pulse : pulses(*timeline, pin.line_no)) RC_ASSERT(std::abs(static_cast<double>(pulse.width) - wanted_ns) <= half_ns);
  }
}

RC_GTEST_PROP(CompileProperty, EveryMoveAndPointHasItsMark, ()) {
  const Drawn d = drawn(true);
  const auto timeline = compile(d.script, d.controller, 1);
  RC_PRE(timeline.ok());
  std::size_t expected = 0;
  for (const Move& m : d.script.moves) expected += m.kind == Move::Kind::points ? m.points.size() : 1;
  RC_ASSERT(timeline->marks.size() == expected);
}

RC_GTEST_PROP(CompileProperty, AppendedTimelinesKeepTheRules, ()) {
  const Drawn d = drawn(true);
  const auto timeline = compile(d.script, d.controller, 1);
  RC_PRE(timeline.ok());
  Timeline joined = *timeline;
  append(joined, *timeline);
  expect_well_formed(joined);
  RC_ASSERT(joined.edges.size() == 2 * timeline->edges.size());
}

}  // namespace
}  // namespace midstick::script
