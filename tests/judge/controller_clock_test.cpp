// The controller's own clock told from its frames, and how far that goes.
#include <gtest/gtest.h>

#include "daemon/judge/controller_clock.hpp"
#include "tests/judge/world.hpp"

namespace midstick::judge_test {
namespace {

using judge::Verdict;

script::Plan plan_that_allows(double percent, double nominal_ms = 20) {
  auto plan = plan_of({"neutral"});
  plan.spec.frame.nominal_ms = nominal_ms;
  plan.spec.clock_percent = percent;
  return plan;
}

Verdict judged(const script::Plan& plan, double clock_ppm, double neutral_off_us = 0) {
  Behaviour b;
  b.clock_ppm = clock_ppm;
  b.neutral_off_us = neutral_off_us;
  return judge::judge_run(plan, run(plan, b)).verdict;
}

TEST(ControllerClock, IsReadFromItsFrames) {
  const auto plan = plan_that_allows(0.5);
  for (const double ppm : {-5000.0, -300.0, 0.0, 4000.0}) {
    Behaviour b;
    b.clock_ppm = ppm;
    EXPECT_NEAR(judge::measured_controller_clock(plan, run(plan, b)), 1 / (1 + ppm * 1e-6), 60e-6) << ppm;
  }
}

TEST(ControllerClock, AnAllowedErrorIsNotBlamedOnNeutral) {
  EXPECT_EQ(judged(plan_that_allows(0), 4800), Verdict::fail);
  EXPECT_EQ(judged(plan_that_allows(0.5), 4800), Verdict::pass);
  EXPECT_EQ(judged(plan_that_allows(0.5), -4800), Verdict::pass);
}

/// It sees every stick 1.5 % of its travel aside, and one on the edge of its dead band past it.
TEST(ControllerClock, AnAllowedErrorIsBlamedOnNoOtherCheck) {
  auto plan = plan_of({"symmetry", "edge-chatter", "sign-matrix", "saturation", "monotonic", "plausibility", "random-sticks"});
  plan.spec.frame.nominal_ms = 20;
  plan.spec.clock_percent = 0.5;
  for (const double ppm : {-4800.0, 4800.0}) {
    Behaviour b;
    b.clock_ppm = ppm;
    const auto result = judge::judge_run(plan, run(plan, b));
    EXPECT_EQ(result.verdict, Verdict::pass) << ppm << "\n" << told(result);
  }
}

TEST(ControllerClock, AMisplacedNeutralIsStillFound) {
  for (const double ppm : {-4800.0, 0.0, 4800.0}) EXPECT_EQ(judged(plan_that_allows(0.5), ppm, 8), Verdict::fail) << ppm;
}

TEST(ControllerClock, MoreThanAllowedIsJudgedInTrueTime) { EXPECT_EQ(judged(plan_that_allows(0.5), 6700), Verdict::fail); }

TEST(ControllerClock, NeedsTheNominalFrame) {
  EXPECT_EQ(judge::measured_controller_clock(plan_that_allows(0.5, 0), run(plan_of({"neutral"}))), 0);
  EXPECT_EQ(judged(plan_that_allows(0.5, 0), 4800), Verdict::fail);
  EXPECT_EQ(judged(plan_that_allows(0.5, 17), 4800), Verdict::fail) << "frames far from the nominal say nothing";
}

TEST(ControllerClock, IsUnknownWithoutFrames) {
  const auto plan = plan_that_allows(0.5);
  auto record = run(plan);
  record.response.resize(60);
  EXPECT_EQ(judge::measured_controller_clock(plan, record), 0);
  EXPECT_EQ(judge::controller_clock(plan, record), 1);
}

}  // namespace
}  // namespace midstick::judge_test
