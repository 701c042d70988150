// Receiver frames in a compiled script: a move's own frame, the order of the channels, drifting phases. Times are ns.
#include <gtest/gtest.h>

#include "tests/script/timelines.hpp"

namespace midstick::script {
namespace {

using Pulses = std::vector<Pulse>;
using Order = ReceiverFrame::Order;

ReceiverFrame frame(double period_us, Order order = Order::sequential) {
  ReceiverFrame out;
  out.period_us = period_us;
  out.order = order;
  return out;
}

Move hold(double ms, std::optional<double> period_us = std::nullopt) {
  Move move;
  move.for_ms = ms;
  move.from = {{"throttle", 1600}};
  if (period_us) move.frame = frame(*period_us);
  return move;
}

std::vector<std::int64_t> rises_us(const Timeline& timeline, std::uint8_t line) {
  std::vector<std::int64_t> out;
  for (const Pulse& pulse : pulses(timeline, line)) out.push_back(pulse.rise / 1000);
  return out;
}

TEST(MoveFrame, IsUsedDuringItsMoveOnly) {
  const auto timeline = played(script_of({hold(40), hold(30, 10000), hold(40)}));
  EXPECT_EQ(rises_us(timeline, 0), (std::vector<std::int64_t>{200, 20200, 40200, 50200, 60200, 70200, 90200}));
}

TEST(MoveFrame, FrameThatRunsIntoTheNextMoveIsFinishedFirst) {
  // The second frame of the first move runs from 20 to 40 ms; the second move has its 20 ms after it.
  const auto timeline = played(script_of({hold(30), hold(20, 10000)}));
  EXPECT_EQ(rises_us(timeline, 0), (std::vector<std::int64_t>{200, 20200, 40200, 50200}));
}

TEST(MoveFrame, MovesOfOneFrameStandBackToBackDownToTheShortestPeriod) {
  std::vector<Move> moves;
  for (int i = 0; i < 200; ++i) {
    Move move;
    move.for_ms = 2.5;
    move.frame = frame(2500, Order::simultaneous);
    move.from = {{"throttle", 1000.0 + i}};
    move.mark = std::to_string(i);
    moves.push_back(move);
  }
  const auto timeline = played(script_of(moves));
  const auto got = pulses(timeline, 0);
  ASSERT_EQ(got.size(), 200u);
  ASSERT_EQ(timeline.marks.size(), 200u);
  for (std::size_t i = 0; i < 200; ++i) {
    EXPECT_EQ(got[i], (Pulse{200'000 + 2'500'000 * static_cast<std::int64_t>(i), 1'000'000 + 1000 * static_cast<std::int64_t>(i)}));
    EXPECT_EQ(timeline.marks[i].label, std::to_string(i));
  }
}

TEST(MoveFrame, MovesOfOneFrameFitPeriodsThatAreNoWholeMilliseconds) {
  for (const double period : {2500.1, 5555.5, 18003.7, 22500.3}) {
    std::vector<Move> moves(50, hold(period / 1e3, period));
    for (Move& move : moves) move.frame->order = Order::simultaneous;
    EXPECT_EQ(pulses(played(script_of(moves)), 0).size(), 50u) << period;
  }
}

TEST(MoveFrame, SetsItsOwnLeastLength) {
  EXPECT_NE(refusal(script_of({hold(40), hold(9.99, 10000)})).find("move 2: found a move of 9.99 ms; expected 10 to"), std::string::npos);
  EXPECT_TRUE(compile(script_of({hold(40), hold(10, 10000)}), two_inputs(), 1));
  EXPECT_NE(refusal(script_of({hold(40), hold(30, 40000)})).find("move 2: found a move of 30 ms; expected 40 to"), std::string::npos);
}

TEST(MoveFrame, MoveWithAnotherFrameWaitsForTheEndOfTheFrameBefore) {
  // 30 ms of 20 ms frames end at 40 ms; the 10 ms move is not passed over, and what follows comes 10 ms later, too.
  Move last = hold(40);
  last.actions = {ActionKind::reset};
  const auto t = played(script_of({hold(30), hold(10, 10000), last}));
  ASSERT_EQ(t.actions.size(), 1u);
  EXPECT_EQ(t.actions[0].at.count, 50'000'000);
  EXPECT_EQ(t.length.count, 90'000'000);
  EXPECT_EQ(pulses(t, 0).size(), 5u);
}

TEST(MoveFrame, IsCheckedLikeTheScripts) {
  EXPECT_NE(refusal(script_of({hold(40), hold(40, 2000)})).find("move 2: found a frame period of 2000 us"), std::string::npos);
  Move strange = hold(40, 20000);
  strange.frame->drift_us["rudder"] = 1;
  EXPECT_NE(refusal(script_of({strange})).find("found the input rudder"), std::string::npos);
}

StickScript ordered(Order order, double overlap_us = 500) {
  StickScript script = script_of({hold(20)});
  script.frame.order = order;
  script.frame.overlap_us = overlap_us;
  return script;
}

TEST(ChannelOrder, ReversedStartsWithTheLastInput) {
  const auto timeline = played(ordered(Order::reversed));
  EXPECT_EQ(pulses(timeline, 1), (Pulses{{200'000, 1'500'000}}));
  EXPECT_EQ(pulses(timeline, 0), (Pulses{{1'900'000, 1'600'000}}));
}

TEST(ChannelOrder, SimultaneousRisesTogether) {
  const auto timeline = played(ordered(Order::simultaneous));
  EXPECT_EQ(pulses(timeline, 0), (Pulses{{200'000, 1'600'000}}));
  EXPECT_EQ(pulses(timeline, 1), (Pulses{{200'000, 1'500'000}}));
}

TEST(ChannelOrder, OverlappingRisesBeforeTheOneBeforeFalls) {
  const auto timeline = played(ordered(Order::overlapping, 300));
  EXPECT_EQ(pulses(timeline, 0), (Pulses{{200'000, 1'600'000}}));
  EXPECT_EQ(pulses(timeline, 1), (Pulses{{1'500'000, 1'500'000}}));
  EXPECT_NE(refusal(ordered(Order::overlapping, 1500.5)).find("expected it no shorter than the overlap, 1500.5 us"), std::string::npos);
}

TEST(ChannelOrder, PhaseOfItsOwnStandsOutsideTheOrder) {
  StickScript script = ordered(Order::reversed);
  script.frame.phase_us = {{"steering", 5000}};
  const auto timeline = played(script);
  EXPECT_EQ(pulses(timeline, 1), (Pulses{{5'000'000, 1'500'000}}));
  EXPECT_EQ(pulses(timeline, 0), (Pulses{{200'000, 1'600'000}}));
}

TEST(Drift, MovesThePhaseOnInEveryFrameRoundAndRound) {
  StickScript script = script_of({hold(200)});
  script.frame.phase_us = {{"steering", 5000}};
  script.frame.drift_us = {{"steering", 4000}};
  const auto timeline = played(script);
  // Places are 0 .. 20000 - 1500 - 200 = 18300 us.
  std::vector<std::int64_t> phases;
  for (const Pulse& pulse : pulses(timeline, 1)) phases.push_back(pulse.rise / 1000 % 20000);
  EXPECT_EQ(phases, (std::vector<std::int64_t>{5000, 9000, 13000, 17000, 2700, 6700, 10700, 14700, 400, 4400}));
  EXPECT_EQ(rises_us(timeline, 0)[9], 180200) << "the other input stays";
}

TEST(Drift, GoesBackwardsToo) {
  StickScript script = script_of({hold(60)});
  script.frame.phase_us = {{"throttle", 100}};
  script.frame.drift_us = {{"throttle", -150}};
  EXPECT_EQ(rises_us(played(script), 0), (std::vector<std::int64_t>{100, 20000 + 18150, 40000 + 18000})) << "places are 0 .. 18200";
}

TEST(Drift, NeedsRoom) {
  StickScript script = script_of({hold(20)});
  script.frame = frame(2500, Order::simultaneous);
  script.frame.drift_us = {{"throttle", 10}};
  EXPECT_TRUE(compile(script, two_inputs(), 1));
  script.moves[0].from["throttle"] = 2300;
  EXPECT_NE(refusal(script).find("leaves no room to drift"), std::string::npos);
}

TEST(ActionsWithin, ComeADrawnTimeAfterTheStart) {
  std::vector<Move> moves(200, hold(20));
  for (Move& move : moves) {
    move.actions = {ActionKind::power_off, ActionKind::reset};
    move.action_within_ms = 20;
  }
  const auto timeline = played(script_of(moves));
  ASSERT_EQ(timeline.actions.size(), 400u);
  std::int64_t least = 20'000'000, most = 0;
  for (std::size_t i = 0; i < 400; i += 2) {
    const std::int64_t late = timeline.actions[i].at.count - 10'000'000 * static_cast<std::int64_t>(i);
    EXPECT_EQ(timeline.actions[i + 1].at, timeline.actions[i].at) << "the actions of one move come together";
    least = std::min(least, late);
    most = std::max(most, late);
  }
  EXPECT_GE(least, 0);
  EXPECT_LT(least, 2'000'000) << "200 uniform draws all miss a tenth with a chance of 7e-10";
  EXPECT_GT(most, 18'000'000);
  EXPECT_LE(most, 20'000'000);
  const auto again = played(script_of(moves), 2);
  EXPECT_NE(again.actions[0].at, timeline.actions[0].at) << "the seed counts";
  moves[3].action_within_ms = 21;
  EXPECT_NE(refusal(script_of(moves)).find("move 4: found a delay of actions of 21 ms; expected 0 to 20 ms"), std::string::npos);
}

}  // namespace
}  // namespace midstick::script
