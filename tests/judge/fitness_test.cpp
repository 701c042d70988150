// The bench's own fitness comes first: no verdict stands on a record that is not whole.
#include <gtest/gtest.h>

#include <algorithm>

#include "tests/judge/world.hpp"

namespace midstick::judge_test {
namespace {

using capture::Event;
using capture::EventKind;
using judge::Verdict;

const std::vector<std::string> kThree{"neutral", "limits", "output-frame"};

BoardTime middle(const capture::Segment& s) { return {(s.begin.count + s.end.count) / 2}; }

judge::RunResult with_event(EventKind kind, int segment, BoardSpan lasted = {0}, const Behaviour& controller = {}) {
  const auto plan = plan_of(kThree);
  auto record = run(plan, controller);
  const BoardTime at = middle(record.segments[static_cast<std::size_t>(segment)]);
  record.events.push_back({at, kind, 3, at - lasted, "planted"});
  return judge::judge_run(plan, record);
}

TEST(Fitness, WholeRecordPasses) {
  const auto plan = plan_of(kThree);
  EXPECT_EQ(judge::judge_run(plan, run(plan)).verdict, Verdict::pass);
}

TEST(Fitness, LostEdgesSpoilTheCheckTheyFallInAndNoOther) {
  const auto result = with_event(EventKind::edges_lost, 1);
  EXPECT_EQ(those(result, Verdict::inconclusive), "limits") << told(result);
  EXPECT_EQ(result.verdict, Verdict::inconclusive);
  EXPECT_NE(check(result, "limits").summary.find("gap"), std::string::npos);
}

TEST(Fitness, GapThatReachesBackSpoilsEveryCheckItTouches) {
  const auto result = with_event(EventKind::edges_lost, 1, {16 * 8'000'000});
  EXPECT_EQ(those(result, Verdict::inconclusive), "neutral, limits") << told(result);
}

TEST(Fitness, EverythingAfterABoardRestartIsOnAnotherClock) {
  EXPECT_EQ(those(with_event(EventKind::board_restart, 1), Verdict::inconclusive), "limits, output-frame");
}

TEST(Fitness, BoardFaultEndsTheRunForEveryLaterCheck) {
  const auto result = with_event(EventKind::board_fault, 1);
  EXPECT_EQ(those(result, Verdict::inconclusive), "limits, output-frame");
  EXPECT_NE(check(result, "limits").summary.find("fault 3"), std::string::npos);
}

TEST(Fitness, OpenStopLoopSpoilsLikeAFault) {
  EXPECT_EQ(those(with_event(EventKind::stop_loop_open, 2), Verdict::inconclusive), "output-frame");
}

TEST(Fitness, SupplyReadingsSpoilNothing) { EXPECT_EQ(with_event(EventKind::supply, 1).verdict, Verdict::pass); }

TEST(Fitness, SpoiltFailIsNoFailEither) {
  Behaviour far_off;
  far_off.armed_off_us = 40;
  const auto result = with_event(EventKind::edges_lost, 0, {0}, far_off);
  const auto& neutral = check(result, "neutral");
  EXPECT_EQ(neutral.verdict, Verdict::inconclusive);
  EXPECT_NE(neutral.summary.find("points to a fail"), std::string::npos) << neutral.summary;
  for (const auto& m : neutral.measures) EXPECT_EQ(m.verdict, Verdict::inconclusive);
}

TEST(Fitness, RunCutShortNeverPasses) {
  const auto plan = plan_of(kThree);
  auto record = run(plan);
  record.complete = false;
  record.incomplete_reason = "stopped by a person";
  const auto result = judge::judge_run(plan, record);
  EXPECT_EQ(those(result, Verdict::pass), "");
  EXPECT_NE(check(result, "neutral").summary.find("stopped by a person"), std::string::npos);
}

TEST(Fitness, CheckNeverReachedIsInconclusive) {
  const auto plan = plan_of(kThree);
  auto record = run(plan);
  record.segments.pop_back();
  const auto result = judge::judge_run(plan, record);
  EXPECT_EQ(those(result, Verdict::inconclusive), "output-frame");
  EXPECT_NE(check(result, "output-frame").summary.find("never reached"), std::string::npos);
}

TEST(Fitness, MissingRepeatIsInconclusive) {
  const auto plan = plan_with(R"([{"check": "neutral", "repeats": 3}])");
  auto record = run(plan);
  EXPECT_EQ(judge::judge_run(plan, record).verdict, Verdict::pass);
  record.segments.pop_back();
  const auto result = judge::judge_run(plan, record);
  EXPECT_EQ(result.verdict, Verdict::inconclusive);
  EXPECT_NE(result.checks[0].summary.find("2 of 3 repeats"), std::string::npos) << result.checks[0].summary;
}

TEST(Fitness, UnknownKindIsInconclusive) {
  auto plan = plan_of({"neutral"});
  const auto record = run(plan);
  plan.checks[0].kind = "no-such-check";
  EXPECT_EQ(judge::judge_run(plan, record).verdict, Verdict::inconclusive);
}

TEST(Fitness, PlanWithoutChecksIsNoPass) {
  auto plan = plan_of({"neutral"});
  plan.checks.clear();
  EXPECT_EQ(judge::judge_run(plan, capture::Capture{}).verdict, Verdict::inconclusive);
}

TEST(Fitness, UnmeasuredClockDecidesNoWidth) {
  const auto plan = plan_of({"neutral"});
  Bench bench;
  bench.uncertainty_ppm = 5000;
  EXPECT_EQ(judge::judge_run(plan, run(plan, {}, bench)).verdict, Verdict::inconclusive);
}

}  // namespace
}  // namespace midstick::judge_test
