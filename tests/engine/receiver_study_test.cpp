// The study of a recorded receiver: from synthetic captures to findings, and the script that comes out plays the same receiver again.
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>

#include "daemon/engine/receiver_study.hpp"
#include "daemon/script/draw.hpp"
#include "daemon/script/receiver.hpp"
#include "daemon/script/timeline.hpp"

namespace midstick::engine {
namespace {

using script::Move;
using Order = script::ReceiverFrame::Order;
using Sticks = std::map<std::string, double>;

script::ControllerDescription controller() {
  script::ControllerDescription out;
  out.name = "drive";
  out.inputs = {{"throttle", "S1", 0, 0, 0}, {"steering", "S2", 1, 0, 0}};
  return out;
}

mixer::MixerSpec spec() {
  mixer::MixerSpec out;
  out.throttle.name = "throttle";
  out.steering.name = "steering";
  return out;
}

Move hold(Sticks sticks, double ms, const char* mark = "") {
  Move move;
  move.from = std::move(sticks);
  move.for_ms = ms;
  move.mark = mark;
  return move;
}

/// A person at a transmitter whose receiver does `loss` when it is switched off.
script::StickScript session_of(const std::string& loss, const script::ReceiverFrame& frame) {
  const Sticks centre{{"throttle", 1512}, {"steering", 1488}}, held{{"throttle", 1750}, {"steering", 1400}};
  script::StickScript out;
  out.frame = frame;
  out.moves = {hold(centre, 4000, "rest")};
  for (const auto& [input, low, high] : {std::tuple("throttle", 1010.0, 1990.0), {"steering", 1120.0, 1880.0}}) {
    Move down = hold(centre, 2000, out.moves.size() == 1 ? "travel" : "");
    down.kind = Move::Kind::ramp;
    down.to = centre;
    down.to[input] = low;
    Move at_low = hold(down.to, 200), up = down, at_high = at_low, back = down;
    up.from = down.to, up.to[input] = high, up.mark = "";
    at_high.from = up.to;
    back.from = up.to, back.to = centre, back.mark = "";
    for (const Move& move : {down, at_low, up, at_high, back}) out.moves.push_back(move);
  }
  out.moves.push_back(hold(held, 2000, "held"));
  script::ReceiverScene scene{"throttle", held, {{"throttle", 1500}, {"steering", 1500}}, 2000, frame.period_us / 1e3};
  auto lost = script::receiver_moves(loss, scene, script::receiver_behaviour(loss)->least_ms + 3000);
  for (Move& move : *lost) move.mark = &move == lost->data() ? "off" : "";
  out.moves.insert(out.moves.end(), lost->begin(), lost->end());
  out.moves.push_back(hold(held, 2000, "on"));
  return out;
}

/// What the bench would have captured, its clock off by 0.3 %, each stamp off by a tick at most.
capture::Capture captured(const script::StickScript& script) {
  const auto timeline = script::compile(script, controller(), 1);
  EXPECT_TRUE(timeline) << timeline.error().message;
  capture::Capture out;
  out.clock.ns_per_tick = 62.5 * 1.003;
  out.clock.uncertainty_ppm = 60;
  out.begin = {1000};
  script::Draw draw(5);
  const auto at = [&](ScriptTime t) { return BoardTime{1000 + std::llround(static_cast<double>(t.count) / out.clock.ns_per_tick)}; };
  if (!timeline) return out;
  for (const auto& edge : timeline->edges)
    out.response.push_back({at(edge.at) + BoardSpan{draw.within(-1, 1)}, edge.line, edge.level, 1, false});
  std::ranges::stable_sort(out.response, {}, &capture::Edge::at);
  capture::Segment segment{0, 0, at({}), at(ScriptTime{} + timeline->length), {}};
  for (const auto& mark : timeline->marks) segment.marks.push_back({at(mark.at), mark.label, {}});
  out.end = segment.end;
  out.segments = {segment};
  out.complete = true;
  return out;
}

ReceiverFinding studied(const script::StickScript& script) {
  auto f = study(captured(script), {"throttle", "steering"}, spec(), "recorded");
  EXPECT_TRUE(f) << f.error().message;
  return f ? f.take() : ReceiverFinding{};
}

script::ReceiverFrame frame(double period_us = 20000, Order order = Order::sequential) {
  script::ReceiverFrame out;
  out.period_us = period_us;
  out.order = order;
  return out;
}

TEST(ReceiverStudy, FindsFrameEndpointsCentreAndJitter) {
  script::ReceiverFrame sent = frame(18250);
  sent.jitter_us = 3;
  const auto f = studied(session_of("silent", sent));
  EXPECT_NEAR(f.period_us, 18250, 0.2);
  ASSERT_EQ(f.channels.size(), 2u);
  EXPECT_NEAR(f.channels[0].centre_us, 1512, 1);
  EXPECT_NEAR(f.channels[1].centre_us, 1488, 1);
  EXPECT_NEAR(f.channels[0].low_us, 1010, 4);
  EXPECT_NEAR(f.channels[0].high_us, 1990, 4);
  EXPECT_NEAR(f.channels[1].low_us, 1120, 4);
  EXPECT_NEAR(f.channels[1].high_us, 1880, 4);
  for (const auto& c : f.channels) EXPECT_NEAR(c.jitter_us, 2.85, 0.4) << "the middle 95 % of +-3 us";
  EXPECT_NE(f.notes[2].find("trim 12."), std::string::npos) << f.notes[2];
}

TEST(ReceiverStudy, TellsTheOrdersApart) {
  for (const Order order : {Order::sequential, Order::reversed, Order::simultaneous, Order::overlapping}) {
    script::ReceiverFrame sent = frame(20000, order);
    sent.overlap_us = 430;
    const auto f = studied(session_of("silent", sent));
    EXPECT_EQ(f.order, order);
    EXPECT_FALSE(f.own_phases);
    if (order == Order::overlapping) {
      EXPECT_NEAR(f.overlap_us, 430, 1);
    }
  }
}

TEST(ReceiverStudy, KeepsPhasesThatFitNoOrder) {
  script::ReceiverFrame sent = frame();
  sent.phase_us = {{"throttle", 7000}, {"steering", 2000}};
  const auto f = studied(session_of("silent", sent));
  EXPECT_TRUE(f.own_phases);
  EXPECT_NEAR(f.channels[0].phase_us - f.channels[1].phase_us, 5000, 1);
}

TEST(ReceiverStudy, NamesEveryLoss) {
  for (const auto& behaviour : script::receiver_behaviours())
    if (behaviour.state == script::ReceiverState::loss) {
      EXPECT_EQ(studied(session_of(std::string(behaviour.name), frame())).loss, behaviour.name);
    }
}

TEST(ReceiverStudy, ScriptPlaysTheSameReceiverAgain) {
  for (const char* loss : {"low_then_silent", "preset", "throttle_920"}) {
    script::ReceiverFrame sent = frame(22000, Order::reversed);
    const auto f = studied(session_of(loss, sent));
    script::StickScript again = f.script;
    // The recording's steps as marks, where the script has them under its own names.
    bool off = false;
    for (std::size_t i = 0; i < again.moves.size(); ++i) {
      Move& move = again.moves[i];
      const bool lost = move.mark.starts_with(loss);
      move.mark = move.mark == "back" ? "on" : lost && !std::exchange(off, true) ? "off" : lost ? "" : move.mark;
      if (move.mark == "held" || move.mark == "rest" || move.mark == "on") move.for_ms *= 3;
    }
    capture::Capture capture = captured(again);
    // Points would give a mark each; the step begins where the rest ends.
    auto& marks = capture.segments[0].marks;
    marks.insert(marks.begin() + 1, {capture.begin + capture.clock.ticks({std::llround(again.moves[0].for_ms * 1e6)}), "travel", {}});
    const auto g = study(capture, {"throttle", "steering"}, spec(), "again");
    ASSERT_TRUE(g) << g.error().message;
    EXPECT_EQ(g->loss, f.loss);
    EXPECT_EQ(g->order, f.order);
    EXPECT_NEAR(g->period_us, f.period_us, 0.2);
    for (std::size_t c = 0; c < 2; ++c) {
      EXPECT_NEAR(g->channels[c].low_us, f.channels[c].low_us, 1.5);
      EXPECT_NEAR(g->channels[c].high_us, f.channels[c].high_us, 1.5);
      EXPECT_NEAR(g->channels[c].centre_us, f.channels[c].centre_us, 1.5);
    }
  }
}

TEST(ReceiverStudy, RefusesAChannelThatIsNotWired) {
  auto capture = captured(session_of("silent", frame()));
  std::erase_if(capture.response, [](const auto& e) { return e.line == 1; });
  const auto f = study(capture, {"throttle", "steering"}, spec(), "x");
  ASSERT_FALSE(f);
  EXPECT_NE(f.error().message.find("channel steering gave fewer than 10 pulses"), std::string::npos) << f.error().message;
}

TEST(ReceiverStudy, LossThatFitsNoNameStaysUnnamed) {
  auto script = session_of("silent", frame());
  for (Move& move : script.moves)
    if (move.mark == "off") move.faults = {{.input = "throttle", .fault = script::Fault::stuck_high}};
  const auto f = studied(script);
  EXPECT_NE(f.loss, "silent");
  EXPECT_NE(f.loss, "frozen_high");
}

}  // namespace
}  // namespace midstick::engine
