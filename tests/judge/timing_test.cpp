// The checks about how outputs are made: each fails on its fault, names the cause, and names none where the numbers do not fit.
#include <gtest/gtest.h>

#include "tests/judge/world.hpp"

namespace midstick::judge_test {
namespace {

using judge::Verdict;

judge::CheckResult judged(const std::string& check_json, const std::function<void(Behaviour&)>& change = {}, double dither_us = 0) {
  auto plan = plan_with("[" + check_json + "]");
  plan.frame.dither_us = dither_us;
  Behaviour b;
  if (change) change(b);
  return judge::judge_run(plan, run(plan, b)).checks[0];
}

std::string all_of(const judge::CheckResult& r) {
  std::string text = r.summary;
  for (const auto& m : r.measures) text += "\n  " + m.name + " " + std::to_string(m.measured) + " " + m.note;
  for (const auto& c : r.causes) text += "\n  cause " + c.id + ": " + c.reason;
  return text;
}

TEST(OutputSkewCheck, ASideOneFrameLateFails) {
  const auto r = judged(R"({"check": "output-skew"})", [](auto& b) { b.right_late_frames = 1; });
  EXPECT_EQ(r.verdict, Verdict::fail) << all_of(r);
  EXPECT_EQ(first_cause(r), "sides-apart") << all_of(r);
  EXPECT_NEAR(measure(r, "median skew of new widths")->measured, 20, 0.1);
  EXPECT_LT(measure(r, "median skew of new widths")->uncertainty, 0.01);
  EXPECT_TRUE(r.evidence.front().failing);
}

TEST(OutputSkewCheck, ASideTwoFramesLateFailsBothLimits) {
  const auto r = judged(R"({"check": "output-skew"})", [](auto& b) { b.right_late_frames = 2; });
  EXPECT_EQ(measure(r, "longest skew of new widths")->verdict, Verdict::fail) << all_of(r);
}

TEST(OutputSkewCheck, StepsAreSeenAtEveryPhase) {
  const auto r = judged(R"({"check": "output-skew"})");
  EXPECT_EQ(measure(r, "median skew of new widths")->samples, 26) << all_of(r);
}

TEST(OutputSkewCheck, AControllerThatDoesNotFollowIsNoPass) {
  EXPECT_EQ(judged(R"({"check": "output-skew"})", [](auto& b) { b.never_arms = true; }).verdict, Verdict::inconclusive);
}

TEST(MidPulseCheck, APulseBegunAnewByAnUpdateFails) {
  const auto r = judged(R"({"check": "mid-pulse"})", [](auto& b) { b.update_in_pulse = true, b.input_steps = false; });
  EXPECT_EQ(r.verdict, Verdict::fail) << all_of(r);
  EXPECT_EQ(first_cause(r), "update-in-pulse") << all_of(r);
  EXPECT_EQ(measure(r, "left pulses off at rest")->verdict, Verdict::pass) << all_of(r);
  EXPECT_TRUE(r.evidence.front().failing);
}

TEST(MidPulseCheck, OutliersAtRestAsWellAreNoUpdateInThePulse) {
  const auto r = judged(R"({"check": "mid-pulse"})", [](auto& b) { b.outlier_us = 90; });
  EXPECT_EQ(r.verdict, Verdict::fail) << all_of(r);
  EXPECT_NE(first_cause(r), "update-in-pulse") << all_of(r);
}

TEST(MidPulseCheck, LargeOutliersAtRestAsOftenAreNoUpdateInThePulse) {
  const auto r = judged(R"({"check": "mid-pulse", "still_ms": 10000})", [](auto& b) { b.outlier_us = 400; });
  EXPECT_EQ(r.verdict, Verdict::fail) << all_of(r);
  EXPECT_NE(first_cause(r), "update-in-pulse") << all_of(r);
}

TEST(MidPulseCheck, AFewOutliersAtRestDoNotHideIt) {
  const auto r = judged(R"({"check": "mid-pulse"})", [](auto& b) { b.update_in_pulse = true, b.input_steps = false, b.outlier_us = 30; });
  EXPECT_EQ(measure(r, "left pulses off at rest")->verdict, Verdict::fail) << all_of(r);
  EXPECT_EQ(first_cause(r), "update-in-pulse") << all_of(r);
}

TEST(MidPulseCheck, ALaggingOutputIsNoUpdateInThePulse) {
  const auto r = judged(R"({"check": "mid-pulse"})", [](auto& b) { b.filter_frames = 3; });
  EXPECT_NE(first_cause(r), "update-in-pulse") << all_of(r);
}

TEST(MidPulseCheck, ALateControllerIsNoFaultOfItsPulses) {
  const auto r = judged(R"({"check": "mid-pulse"})", [](auto& b) { b.delay_ms = 18; });
  EXPECT_EQ(r.verdict, Verdict::pass) << all_of(r);
}

TEST(OutlierRhythmCheck, FindsThePeriodInWhichInterruptsAreOff) {
  const auto r = judged(R"({"check": "outlier-rhythm"})", [](auto& b) { b.interrupts_off_every_ms = 107, b.interrupts_off_ms = 3; });
  EXPECT_EQ(r.verdict, Verdict::fail) << all_of(r);
  EXPECT_EQ(first_cause(r), "interrupts-off") << all_of(r);
  EXPECT_NE(r.causes.at(0).reason.find("every 107.0 ms"), std::string::npos) << all_of(r);
  EXPECT_TRUE(r.evidence.front().failing);
}

// A misreading ends the rest that arms; with the spec's time to arm this controller would never drive, and show nothing.
TEST(OutlierRhythmCheck, OutliersOfOneStepAreASlippedClock) {
  for (const double step : {128.0, 256.0}) {
    const auto r = judged(R"({"check": "outlier-rhythm"})", [&](auto& b) { b.slip_us = step, b.arm_ms = 40; });
    EXPECT_EQ(r.verdict, Verdict::fail) << all_of(r);
    EXPECT_EQ(first_cause(r), "time-base-slip") << all_of(r);
    EXPECT_NE(r.causes.at(0).reason.find(std::to_string(static_cast<int>(step)) + " us"), std::string::npos) << all_of(r);
  }
}

TEST(OutlierRhythmCheck, JitterOfASimpleReadingIsNoOutlier) {
  EXPECT_EQ(judged(R"({"check": "outlier-rhythm"})", [](auto& b) { b.width_noise_us = 6; }).verdict, Verdict::pass);
}

TEST(ClockRatioCheck, AClockOnePercentOffFailsAndIsNamed) {
  for (const double ppm : {10000.0, -10000.0}) {
    const auto r = judged(R"({"check": "clock-ratio"})", [&](auto& b) { b.clock_ppm = ppm; });
    EXPECT_EQ(r.verdict, Verdict::fail) << all_of(r);
    EXPECT_EQ(first_cause(r), "clock-off") << all_of(r);
    EXPECT_NEAR(r.measures.at(0).measured, -ppm / 1e4, 0.1) << all_of(r);
  }
}

TEST(ClockRatioCheck, AnOffsetOrAWrongEndIsNoClockError) {
  EXPECT_EQ(judged(R"({"check": "clock-ratio"})", [](auto& b) { b.neutral_off_us = 15; }).verdict, Verdict::pass);
  EXPECT_EQ(judged(R"({"check": "clock-ratio"})", [](auto& b) { b.right_low_us = 960; }).verdict, Verdict::pass);
}

TEST(ClockRatioCheck, AClockWorthALookPassesWithANote) {
  const auto r = judged(R"({"check": "clock-ratio"})", [](auto& b) { b.clock_ppm = 3000; });
  EXPECT_EQ(r.verdict, Verdict::pass) << all_of(r);
  EXPECT_NE(r.measures.at(0).note.find("worth a look"), std::string::npos) << all_of(r);
}

TEST(FrozenOutputCheck, AProgramThatTheStormHoldsUpFails) {
  const auto r = judged(R"({"check": "frozen-output"})", [](auto& b) { b.frozen_in_storm = true; });
  EXPECT_EQ(r.verdict, Verdict::fail) << all_of(r);
  EXPECT_EQ(first_cause(r), "storm-lockout") << all_of(r);
  EXPECT_GT(measure(r, "longest without answer, storm on both inputs")->measured, 200);
}

TEST(FrozenOutputCheck, PulsesThatGoOnWhileTheProgramHangsAreNamed) {
  const auto r = judged(R"({"check": "frozen-output"})", [](auto& b) { b.hung_by_storm = true; });
  EXPECT_EQ(r.verdict, Verdict::fail) << all_of(r);
  EXPECT_EQ(first_cause(r), "live-but-frozen") << all_of(r);
  EXPECT_EQ(measure(r, "until it follows again, storm on the throttle input")->verdict, Verdict::fail);
}

TEST(FrozenOutputCheck, ATripIntoTheStormIsAnAnswer) {
  EXPECT_EQ(judged(R"({"check": "frozen-output"})", [](auto& b) { b.lost_in_storm = true; }).verdict, Verdict::pass);
}

constexpr const char* kShortSoak = R"({"check": "soak", "for_s": 60, "wrap_s": 30, "hold_s": 2})";

TEST(SoakCheck, AnUncommandedStopAtTheWrapFailsAndIsNamed) {
  const auto r = judged(kShortSoak, [](auto& b) { b.stops_at_s = 29.3, b.clock_ppm = 0; });
  EXPECT_EQ(r.verdict, Verdict::fail) << all_of(r);
  EXPECT_EQ(first_cause(r), "clock-wrap") << all_of(r);
}

TEST(SoakCheck, ALossIgnoredAcrossTheWrapAloneFailsAndIsNamed) {
  const auto r = judged(kShortSoak, [](auto& b) { b.deaf_from_s = 30, b.clock_ppm = 0; });
  EXPECT_EQ(r.verdict, Verdict::fail) << all_of(r);
  EXPECT_EQ(measure(r, "time to safe, loss before the wrap")->verdict, Verdict::pass) << all_of(r);
  EXPECT_EQ(measure(r, "time to safe, loss across the wrap")->verdict, Verdict::fail) << all_of(r);
  EXPECT_EQ(first_cause(r), "clock-wrap") << all_of(r);
}

TEST(SoakCheck, AStopFarFromTheWrapIsNotTheWrap) {
  const auto r = judged(R"({"check": "soak", "for_s": 120, "wrap_s": 90, "hold_s": 2})", [](auto& b) { b.stops_at_s = 20; });
  EXPECT_EQ(r.verdict, Verdict::fail) << all_of(r);
  EXPECT_NE(first_cause(r), "clock-wrap") << all_of(r);
}

TEST(SoakCheck, TooShortForTheWrapIsNoPass) {
  const auto r = judged(R"({"check": "soak", "for_s": 30})");
  EXPECT_EQ(r.verdict, Verdict::inconclusive) << all_of(r);
}

TEST(OutputFrameCauses, AWrongRateIsNamed) {
  const auto r = judged(R"({"check": "output-frame"})", [](auto& b) { b.frame_ms = 4; });
  EXPECT_EQ(r.verdict, Verdict::fail) << all_of(r);
  EXPECT_EQ(first_cause(r), "output-rate") << all_of(r);
}

// Coarser steps than the dead band is wide would leave it at neutral, and keep the controller from arming.
TEST(OutputFrameCauses, NoiseThatNeutralHidesCameInWithTheInput) {
  const auto r = judged(R"({"check": "output-frame"})", [](auto& b) { b.input_step_us = 18; }, 1000);
  EXPECT_EQ(r.verdict, Verdict::fail) << all_of(r);
  EXPECT_EQ(first_cause(r), "coarse-capture") << all_of(r);
}

TEST(OutputFrameCauses, NoiseToOneSideAtNeutralAsWellIsMadeOnTheWayOut) {
  const auto r = judged(R"({"check": "output-frame"})", [](auto& b) { b.interrupts_off_every_ms = 0.7, b.interrupts_off_ms = 0.06; });
  EXPECT_EQ(r.verdict, Verdict::fail) << all_of(r);
  EXPECT_EQ(first_cause(r), "interrupt-jitter") << all_of(r);
}

TEST(OutputFrameCauses, TheFurthestWidthIsTheFirstEvidence) {
  const auto r = judged(R"({"check": "output-frame"})", [](auto& b) { b.interrupts_off_every_ms = 107, b.interrupts_off_ms = 3; });
  ASSERT_GE(r.evidence.size(), 2U);
  EXPECT_TRUE(r.evidence.front().failing);
  for (std::size_t i = 1; i < r.evidence.size(); ++i) {
    if (r.evidence[i].failing) {
      EXPECT_TRUE(r.evidence[i - 1].failing) << "failing spans come first";
      EXPECT_GE(r.evidence[i - 1].severity, r.evidence[i].severity);
    }
  }
}

TEST(LatencyCauses, AFilterCreeps) {
  const auto r = judged(R"({"check": "latency"})", [](auto& b) { b.filter_frames = 8; });
  EXPECT_EQ(r.verdict, Verdict::fail) << all_of(r);
  EXPECT_EQ(first_cause(r), "excess-filter") << all_of(r);
}

TEST(LatencyCauses, AStallNowAndThenIsASlowLoop) {
  const auto r = judged(R"({"check": "latency"})", [](auto& b) { b.stalls_every = 17; });
  EXPECT_EQ(r.verdict, Verdict::fail) << all_of(r);
  EXPECT_EQ(first_cause(r), "slow-loop") << all_of(r);
}

TEST(LatencyCauses, OneStickLaterThanTheOtherWaitsForIt) {
  const auto r = judged(R"({"check": "latency"})", [](auto& b) { b.steering_late_ms = 40; });
  EXPECT_EQ(r.verdict, Verdict::fail) << all_of(r);
  EXPECT_EQ(first_cause(r), "blocking-read") << all_of(r);
}

TEST(LatencyCauses, LateAltogetherFitsNothingKnown) {
  const auto r = judged(R"({"check": "latency"})", [](auto& b) { b.delay_ms = 60; });
  EXPECT_EQ(r.verdict, Verdict::fail) << all_of(r);
  EXPECT_EQ(first_cause(r), "") << all_of(r);
}

}  // namespace
}  // namespace midstick::judge_test
