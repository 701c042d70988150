// The rules of compile(), one by one: where pulses, faults, actions and marks land. Times are ns from the script's start.
#include <gtest/gtest.h>

#include <utility>

#include <algorithm>
#include <cmath>

#include "tests/script/timelines.hpp"

namespace midstick::script {
namespace {

using Pulses = std::vector<Pulse>;

Move hold(double throttle, double ms) {
  Move move;
  move.for_ms = ms;
  move.from = {{"throttle", throttle}};
  return move;
}

Move with_fault(Move move, ChannelFault fault) {
  move.faults.push_back(std::move(fault));
  return move;
}

TEST(Compile, InputsFollowOneAnotherTwoHundredMicrosecondsApart) {
  const auto timeline = played(script_of({hold(1600, 20)}));
  EXPECT_EQ(pulses(timeline, 0), (Pulses{{200'000, 1'600'000}}));
  EXPECT_EQ(pulses(timeline, 1), (Pulses{{2'000'000, 1'500'000}})) << "after 200 + 1600 + 200 us";
}

TEST(Compile, PhaseSetsTheRise) {
  StickScript script = script_of({hold(1600, 20)});
  script.frame.phase_us = {{"throttle", 0}, {"steering", 250.5}};
  const auto timeline = played(script);
  EXPECT_EQ(pulses(timeline, 0), (Pulses{{0, 1'600'000}}));
  EXPECT_EQ(pulses(timeline, 1), (Pulses{{250'500, 1'500'000}}));
}

TEST(Compile, SticksAreSampledAtTheFramesStart) {
  Move ramp = hold(1000, 100);
  ramp.kind = Move::Kind::ramp;
  ramp.to = {{"throttle", 2000}};
  const auto got = pulses(played(script_of({ramp})), 0);
  ASSERT_EQ(got.size(), 5u);
  for (std::size_t i = 0; i < 5; ++i) EXPECT_EQ(got[i].width, 1'000'000 + 200'000 * static_cast<std::int64_t>(i));
}

TEST(Compile, SineSwingsAroundItsMiddle) {
  Move sine = hold(1500, 80);
  sine.kind = Move::Kind::sine;
  sine.amplitude_us = {{"throttle", 100}};
  sine.period_ms = 80;
  const auto got = pulses(played(script_of({sine})), 0);
  ASSERT_EQ(got.size(), 4u);
  const std::int64_t expected[] = {1'500'000, 1'600'000, 1'500'000, 1'400'000};
  for (std::size_t i = 0; i < 4; ++i) EXPECT_EQ(got[i].width, expected[i]) << i;
}

TEST(Compile, PointsAreHeldEachForTheirTime) {
  Move move;
  move.kind = Move::Kind::points;
  move.point_ms = 40;
  move.points = {{{"throttle", 1100}}, {}, {{"throttle", 1900}}};
  move.mark = "p";
  const auto timeline = played(script_of({move}));
  std::vector<std::int64_t> widths;
  for (const Pulse& pulse : pulses(timeline, 0)) widths.push_back(pulse.width / 1000);
  EXPECT_EQ(widths, (std::vector<std::int64_t>{1100, 1100, 1100, 1100, 1900, 1900}));
  ASSERT_EQ(timeline.marks.size(), 3u);
  for (std::size_t i = 0; i < 3; ++i) EXPECT_EQ(timeline.marks[i].at.count, 40'000'000 * static_cast<std::int64_t>(i));
  EXPECT_EQ(timeline.marks[2].values, (std::vector<double>{1900, 1500}));
}

TEST(Compile, InputNoMoveNamesRestsAtFifteenHundred) { EXPECT_EQ(pulses(played(script_of({hold(1600, 20)})), 1)[0].width, 1'500'000); }

TEST(Compile, InputNotNamedStaysWhereTheRampLeftIt) {
  Move ramp = hold(1000, 100);
  ramp.kind = Move::Kind::ramp;
  ramp.to = {{"throttle", 1900}};
  Move rest;
  rest.for_ms = 20;
  EXPECT_EQ(pulses(played(script_of({ramp, rest})), 0).back().width, 1'900'000);
}

TEST(Compile, LastFrameIsWhole) {
  EXPECT_EQ(played(script_of({hold(1600, 50)})).length.count, 60'000'000);
  EXPECT_EQ(pulses(played(script_of({hold(1600, 50)})), 0).size(), 3u);
}

TEST(Compile, MarkStandsAtTheFirstFrameThatCarriesTheMove) {
  Move second = hold(1700, 30);
  second.mark = "second";
  const auto timeline = played(script_of({hold(1600, 30), second}));
  ASSERT_EQ(timeline.marks.size(), 1u);
  EXPECT_EQ(timeline.marks[0].at.count, 40'000'000) << "the move starts at 30 ms, the next frame at 40";
  EXPECT_EQ(timeline.marks[0].label, "second");
  EXPECT_EQ(timeline.marks[0].values, (std::vector<double>{1700, 1500}));
}

TEST(Compile, ActionsStandAtTheMovesOwnStart) {
  Move second = hold(1700, 30);
  second.actions = {ActionKind::power_off, ActionKind::reset};
  const auto timeline = played(script_of({hold(1600, 30), second}));
  ASSERT_EQ(timeline.actions.size(), 2u);
  EXPECT_EQ(timeline.actions[0].at.count, 30'000'000);
  EXPECT_EQ(timeline.actions[0].kind, ActionKind::power_off);
  EXPECT_EQ(timeline.actions[1].kind, ActionKind::reset);
}

TEST(Compile, DroppedPulsesLeaveTheOtherInputAlone) {
  for (const Fault fault : {Fault::drop, Fault::stuck_low}) {
    Move lost = with_fault(hold(1600, 60), {.input = "throttle", .fault = fault});
    lost.mark = "lost";
    const auto timeline = played(script_of({hold(1600, 20), lost, hold(1600, 20)}));
    EXPECT_EQ(pulses(timeline, 0), (Pulses{{200'000, 1'600'000}, {80'200'000, 1'600'000}}));
    EXPECT_EQ(pulses(timeline, 1), pulses(played(script_of({hold(1600, 100)})), 1));
    EXPECT_TRUE(std::isnan(timeline.marks[0].values[0]));
    EXPECT_EQ(timeline.marks[0].values[1], 1500);
  }
}

TEST(Compile, StuckHighRisesAsForAPulseAndFallsAGapBeforeTheNextMove) {
  const Move stuck = with_fault(hold(1600, 60), {.input = "throttle", .fault = Fault::stuck_high});
  const auto timeline = played(script_of({hold(1600, 20), stuck, hold(1600, 20)}));
  EXPECT_EQ(pulses(timeline, 0), (Pulses{{200'000, 1'600'000}, {20'200'000, 59'600'000}, {80'200'000, 1'600'000}}));
}

TEST(Compile, StuckHighGoesOnThroughTwoMovesThatBothSaySo) {
  const Move stuck = with_fault(hold(1600, 40), {.input = "throttle", .fault = Fault::stuck_high});
  EXPECT_EQ(pulses(played(script_of({stuck, stuck})), 0), (Pulses{{200'000, 79'600'000}})) << "and is low at the end";
}

TEST(Compile, RuntIsAnExtraHighInTheGap) {
  const Move runt = with_fault(hold(1600, 20), {.input = "throttle", .fault = Fault::runt, .at_us = 5000, .width_us = 20});
  EXPECT_EQ(pulses(played(script_of({runt})), 0), (Pulses{{200'000, 1'600'000}, {5'200'000, 20'000}}));
}

TEST(Compile, RuntMayStandAloneWhereThePulseIsDropped) {
  Move runt = with_fault(hold(1600, 20), {.input = "throttle", .fault = Fault::runt, .at_us = 100, .width_us = 20});
  runt.faults.push_back({.input = "throttle", .fault = Fault::drop});
  EXPECT_EQ(pulses(played(script_of({runt})), 0), (Pulses{{300'000, 20'000}}));
}

TEST(Compile, NotchIsAShortLowInsideThePulse) {
  const Move notch = with_fault(hold(1600, 20), {.input = "throttle", .fault = Fault::notch, .at_us = 700, .width_us = 4});
  EXPECT_EQ(pulses(played(script_of({notch})), 0), (Pulses{{200'000, 700'000}, {904'000, 896'000}}));
}

TEST(Compile, FaultChangesNoOtherDraw) {
  StickScript script = script_of({hold(1600, 200)});
  script.frame.jitter_us = 3;
  const auto clean = pulses(played(script), 1);
  script.moves[0].faults = {{.input = "throttle", .fault = Fault::drop}};
  EXPECT_EQ(pulses(played(script), 1), clean);
}

TEST(Compile, SeedsOfRunAndScriptBothCount) {
  StickScript script = script_of({hold(1600, 200)});
  script.frame.jitter_us = 3;
  script.frame.dither_us = 50;
  const auto base = pulses(played(script, 1), 0);
  EXPECT_EQ(pulses(played(script, 1), 0), base);
  EXPECT_NE(pulses(played(script, 2), 0), base);
  script.seed = 2;
  EXPECT_NE(pulses(played(script, 1), 0), base);
}

TEST(Compile, JitterMovesEachWidthBothWaysUpToItsBound) {
  StickScript script = script_of({hold(1600, 4000)});
  script.frame.jitter_us = 3;
  std::int64_t least = 0, most = 0;
  for (const Pulse& pulse : pulses(played(script), 0)) {
    least = std::min(least, pulse.width - 1'600'000);
    most = std::max(most, pulse.width - 1'600'000);
  }
  EXPECT_GE(least, -3000);
  EXPECT_LE(most, 3000);
  EXPECT_LT(least, -2500) << "200 uniform draws miss the outer twelfth on this side with a chance of 3e-8";
  EXPECT_GT(most, 2500);
}

TEST(Compile, DitherMovesEachFramesLengthBothWaysUpToItsBound) {
  StickScript script = script_of({hold(1600, 4000)});
  script.frame.dither_us = 50;
  const auto got = pulses(played(script), 0);
  std::int64_t least = 0, most = 0;
  for (std::size_t i = 1; i < got.size(); ++i) {
    const std::int64_t off = got[i].rise - got[i - 1].rise - 20'000'000;
    least = std::min(least, off);
    most = std::max(most, off);
  }
  EXPECT_GE(least, -50'000);
  EXPECT_LE(most, 50'000);
  EXPECT_LT(least, -42'000);
  EXPECT_GT(most, 42'000);
}

TEST(Compile, MoveMustLastAFrame) {
  StickScript script = script_of({hold(1600, 19.9)});
  script.frame.dither_us = 50;
  EXPECT_NE(refusal(script).find("found a move of 19.9 ms; expected 20 to"), std::string::npos);
  script.moves[0].for_ms = 20;
  EXPECT_TRUE(compile(script, two_inputs(), 1));
}

TEST(Compile, MovesAndPointsOfWholeFramesKeepTheirNumberUnderDither) {
  std::vector<Move> moves;
  for (int i = 0; i < 200; ++i) moves.push_back(hold(i % 2 ? 1600 : 1700, 60));
  Move points = hold(1500, 20);
  points.kind = Move::Kind::points, points.point_ms = 40;
  for (int i = 0; i < 50; ++i) points.points.push_back({{"throttle", i % 2 ? 1800. : 1900.}});
  moves.push_back(points);
  StickScript script = script_of(moves);
  script.frame.dither_us = 100;
  const auto timeline = compile(script, two_inputs(), 1);
  ASSERT_TRUE(timeline) << timeline.error().message;
  std::vector<int> rows;  // throttle pulses of the same width one after another
  std::int64_t rise = 0, before = 0;
  for (const PlannedEdge& e : timeline->edges) {
    if (e.line != 0) continue;
    if (e.level) {
      rise = e.at.count;
      continue;
    }
    const std::int64_t width = e.at.count - rise;
    if (width != std::exchange(before, width)) rows.push_back(0);
    ++rows.back();
  }
  ASSERT_EQ(rows.size(), 250u);
  for (std::size_t i = 0; i < rows.size(); ++i) EXPECT_EQ(rows[i], i < 200 ? 3 : 2) << i;
}

TEST(Compile, RefusesWhatCannotBePlayed) {
  EXPECT_NE(refusal(script_of({})).find("found no moves"), std::string::npos);
  EXPECT_NE(refusal(script_of({hold(1600, 20), hold(1600, 19)})).find("stick script \"x\", move 2: found a move of 19 ms"),
            std::string::npos);
  EXPECT_NE(refusal(script_of({hold(0.5, 20)})).find("expected 1 to 20000 us"), std::string::npos);
  EXPECT_NE(refusal(script_of({hold(NAN, 20)})).find("found a pulse on throttle of nan us"), std::string::npos);
  EXPECT_NE(refusal(script_of({hold(1500, NAN)})).find("found a move of nan ms"), std::string::npos);
  Move strange = hold(1500, 20);
  strange.from["rudder"] = 1500;
  EXPECT_NE(refusal(script_of({strange})).find("found the input rudder, which controller"), std::string::npos);
  StickScript fast = script_of({hold(2000, 20)});
  fast.frame.period_us = 3000;
  EXPECT_NE(refusal(fast).find("found a pulse on steering that ends"), std::string::npos);
  fast.frame.phase_us = {{"throttle", 0}, {"steering", 0}};
  EXPECT_TRUE(compile(fast, two_inputs(), 1)) << "together they fit";
}

TEST(Append, ShiftsTheTailToTheHeadsEnd) {
  Move marked = with_fault(hold(1700, 20), {.input = "steering", .fault = Fault::drop});
  marked.mark = "m";
  marked.actions = {ActionKind::reset};
  Timeline joined = played(script_of({hold(1600, 30)}));
  append(joined, played(script_of({marked})));
  EXPECT_EQ(joined.length.count, 60'000'000);
  EXPECT_EQ(pulses(joined, 0), (Pulses{{200'000, 1'600'000}, {20'200'000, 1'600'000}, {40'200'000, 1'700'000}}));
  EXPECT_EQ(joined.marks[0].at.count, 40'000'000);
  EXPECT_EQ(joined.actions[0].at.count, 40'000'000);
}

}  // namespace
}  // namespace midstick::script
