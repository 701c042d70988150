// Further faults, one check at a time: what is measured, against which limit, and what the report says of it.
#include <gtest/gtest.h>

#include <cmath>

#include "tests/judge/world.hpp"

namespace midstick::judge_test {
namespace {

using judge::Verdict;

judge::CheckResult judged(const std::string& check_json, const Behaviour& controller,
                          const std::function<void(script::Plan&)>& change = {}) {
  auto plan = plan_with("[" + check_json + "]");
  if (change) change(plan);
  return judge::judge_run(plan, run(plan, controller)).checks[0];
}

TEST(NeutralCheck, MeasuresTheOffsetOfEachOutput) {
  const auto r = judged(R"({"check": "neutral"})", with([](auto& b) { b.armed_off_us = 8, b.clock_ppm = 0; }));
  EXPECT_EQ(r.verdict, Verdict::fail);
  const auto* left = measure(r, "left mean off neutral");
  ASSERT_NE(left, nullptr);
  EXPECT_NEAR(left->measured, 8, 0.1);
  EXPECT_LT(left->uncertainty, 0.5);
  EXPECT_EQ(left->limit_high, 5);
}

TEST(NeutralCheck, OffsetInsideTheGuardBandIsInconclusive) {
  const auto r = judged(R"({"check": "neutral"})", with([](auto& b) { b.armed_off_us = 5.0, b.clock_ppm = 0; }));
  EXPECT_EQ(r.verdict, Verdict::inconclusive) << r.summary;
  EXPECT_NE(r.summary.find("uncertainty"), std::string::npos) << r.summary;
}

TEST(NeutralCheck, OneFarPulseFailsThoughTheMeanIsRight) {
  const auto r = judged(R"({"check": "neutral"})", with([](auto& b) { b.outlier_us = 40; }));
  EXPECT_EQ(r.verdict, Verdict::fail);
  EXPECT_EQ(measure(r, "left mean off neutral")->verdict, Verdict::pass);
}

TEST(NeutralCheck, TrimBelongsToNeutral) {
  const auto trimmed = [](script::Plan& p) { p.spec.left.trim_us = -12; };
  EXPECT_EQ(judged(R"({"check": "neutral"})", {}, trimmed).verdict, Verdict::pass);
}

TEST(StaticMixCheck, NamesTheCauseThatExplainsAllReadings) {
  EXPECT_NE(judged(R"({"check": "static-mix"})", with([](auto& b) { b.clip = true; })).summary.find("clipping"), std::string::npos);
  EXPECT_NE(judged(R"({"check": "static-mix"})", with([](auto& b) { b.no_dead_band = true; })).summary.find("no dead band"),
            std::string::npos);
  EXPECT_NE(judged(R"({"check": "static-mix"})", with([](auto& b) { b.flip_in_reverse = true; })).summary.find("reverse"),
            std::string::npos);
}

TEST(StaticMixCheck, MarksTheFailingPositions) {
  const auto r = judged(R"({"check": "static-mix"})", with([](auto& b) { b.clip = true; }));
  ASSERT_FALSE(r.evidence.empty());
  EXPECT_TRUE(r.evidence.front().failing);
  EXPECT_FALSE(r.pictures.at(0).bands.empty());
  EXPECT_TRUE(r.pictures.at(0).bands.front().failing);
}

TEST(StaticMixCheck, PositionsWithTooFewPulsesAreNoPass) {
  const auto r = judged(R"({"check": "static-mix", "hold_ms": 220})", with([](auto& b) { b.frame_ms = 40; }));
  EXPECT_EQ(r.verdict, Verdict::inconclusive) << r.summary;
}

TEST(StaticMixCheck, EveryLawOfTheSpecIsJudgedByItself) {
  using mixer::Law;
  for (const Law law : {Law::clip, Law::throttle_priority, Law::steering_priority, Law::blend, Law::halved}) {
    const auto change = [law](script::Plan& p) { p.spec.law = law, p.spec.blend = 0.8; };
    const auto r = judged(R"({"check": "static-mix"})", {}, change);
    EXPECT_EQ(r.verdict, Verdict::pass) << static_cast<int>(law) << r.summary;
  }
}

TEST(StaticMixCheck, OwnScriptIsPlayedAfterArming) {
  auto plan = plan_of({"static-mix"});
  script::StickScript own;
  own.frame = plan.frame;
  for (const double t : {1700.0, 1200.0, 1900.0, 1400.0}) {
    script::Move move;
    move.for_ms = 400;
    move.from = {{"throttle", t}, {"steering", 1450}};
    own.moves.push_back(move);
  }
  plan.checks[0].script = own;
  const auto good = judge::judge_run(plan, run(plan)),
             bad = judge::judge_run(plan, run(plan, with([](auto&b) { b.flip_in_reverse = true; })));
  EXPECT_EQ(good.verdict, Verdict::pass) << told(good);
  EXPECT_EQ(good.checks[0].measures[0].samples, 5) << "four holds and the arming";
  EXPECT_EQ(bad.verdict, Verdict::fail);
}

TEST(DeadBandCheck, FindsTheEdgesWithinAStep) {
  const auto r = judged(R"({"check": "dead-band", "step_us": 1})", with([](auto& b) { b.input_steps = false, b.clock_ppm = 0; }));
  EXPECT_EQ(r.verdict, Verdict::pass) << r.summary;
  // Continuous band of 20 us: 6 us of output are reached 6 * 480 / 500 us beyond the edge.
  EXPECT_NEAR(measure(r, "throttle band high edge")->measured, 20 + 6 * 480.0 / 500, 1.0);
  EXPECT_NEAR(measure(r, "steering band low edge")->measured, -(20 + 6 * 480.0 / 500), 1.0);
}

TEST(DeadBandCheck, EdgeIsHalfwayBetweenTheLastStepAtRestAndTheFirstThatMoved) {
  const auto r = judged(R"({"check": "dead-band", "step_us": 5})", with([](auto& b) { b.input_steps = false, b.clock_ppm = 0; }));
  EXPECT_NEAR(measure(r, "throttle band high edge")->measured, 27.5, 0.1) << "at rest at 25 us, moved at 30 us";
  EXPECT_NEAR(measure(r, "throttle band high edge")->uncertainty, 0.95 * 2.5, 0.2);
}

TEST(DeadBandCheck, BandTooWideFailsAsWellAsNone) {
  const auto narrow_spec = [](script::Plan& p) { p.spec.steering.dead_band_half_us = 20; };
  // The controller follows the spec it is given; judge it by another.
  auto plan = plan_of({"dead-band"});
  auto wide = plan;
  wide.spec.steering.dead_band_half_us = 45;
  narrow_spec(plan);
  const auto r = judge::judge_run(plan, run(wide)).checks[0];
  EXPECT_EQ(r.verdict, Verdict::fail);
  EXPECT_EQ(measure(r, "throttle band high edge")->verdict, Verdict::pass);
  EXPECT_EQ(measure(r, "steering band high edge")->verdict, Verdict::fail);
}

TEST(DeadBandCheck, NeutralThatIsOffIsNotADeadBandsMatter) {
  EXPECT_EQ(judged(R"({"check": "dead-band"})", with([](auto& b) { b.armed_off_us = 8; })).verdict, Verdict::pass);
}

TEST(LimitsCheck, EachEndOfEachSideIsWatched) {
  const auto past = judged(R"({"check": "limits"})", with([](auto& b) { b.right_high_us = 2060; }));
  EXPECT_EQ(past.verdict, Verdict::fail);
  EXPECT_EQ(measure(past, "right longest pulse")->verdict, Verdict::fail);
  EXPECT_EQ(measure(past, "left longest pulse")->verdict, Verdict::pass);
  const auto shy = judged(R"({"check": "limits"})", with([](auto& b) { b.right_low_us = 1080; }));
  EXPECT_EQ(measure(shy, "right low end reached")->verdict, Verdict::fail);
}

TEST(LatencyCheck, MeasuresTheDelayAsADistribution) {
  const auto quick = judged(R"({"check": "latency"})", {}), slow = judged(R"({"check": "latency"})", with([](auto&b) { b.delay_ms = 15; }));
  const auto median = [](const judge::CheckResult& r) { return measure(r, "median latency")->measured; };
  EXPECT_NEAR(median(slow) - median(quick), 15, 3);
  EXPECT_LT(measure(slow, "median latency")->measured, measure(slow, "longest latency")->measured);
  EXPECT_EQ(slow.verdict, Verdict::pass) << slow.summary;
}

TEST(LatencyCheck, TooSlowFails) {
  const auto r = judged(R"({"check": "latency"})", with([](auto& b) { b.delay_ms = 45; }));
  EXPECT_EQ(r.verdict, Verdict::fail);
  EXPECT_TRUE(r.evidence.front().failing);
}

/// At random, so one part in ten may be left out by chance (0.9^60 for each).
TEST(LatencyCheck, StepsFallOnAllButOnePartOfTheOutputFrameAtLeast) {
  const auto r = judged(R"({"check": "latency"})", {});
  const std::string note = measure(r, "longest latency")->note;
  EXPECT_TRUE(note.find("10 of 10 parts") != std::string::npos || note.find("9 of 10 parts") != std::string::npos) << note;
}

TEST(LatencyCheck, FewStepsGiveNoVerdict) { EXPECT_EQ(judged(R"({"check": "latency", "steps": 4})", {}).verdict, Verdict::inconclusive); }

TEST(LatencyCheck, ControllerThatNeverMovesFails) {
  EXPECT_EQ(judged(R"({"check": "latency"})", with([](auto& b) { b.never_arms = true; })).verdict, Verdict::fail);
}

TEST(OutputFrameCheck, WrongFrameRateFails) {
  const auto r = judged(R"({"check": "output-frame"})", with([](auto& b) { b.frame_ms = 5; }));
  EXPECT_EQ(measure(r, "left shortest period")->verdict, Verdict::fail);
  EXPECT_NEAR(measure(r, "left shortest period")->measured, 5, 0.01);
}

TEST(OutputFrameCheck, OutliersAreCountedAndBounded) {
  const auto r = judged(R"({"check": "output-frame"})", with([](auto& b) { b.outlier_us = 40; }));
  EXPECT_EQ(r.verdict, Verdict::fail);
  const auto* beyond = measure(r, "right widths beyond 15 us");
  ASSERT_NE(beyond, nullptr);
  EXPECT_GT(beyond->measured, 1);
  EXPECT_NE(beyond->note.find("rate"), std::string::npos);
  EXPECT_TRUE(r.evidence.front().failing);
}

TEST(OutputFrameCheck, NoisyWidthsFailSigma) {
  const auto r = judged(R"({"check": "output-frame"})", with([](auto& b) { b.width_noise_us = 12; }));
  EXPECT_EQ(measure(r, "left width sigma")->verdict, Verdict::fail);
  EXPECT_NEAR(measure(r, "left width sigma")->measured, 12 / std::sqrt(3.0), 0.5);
}

TEST(OutputFrameCheck, RuntsTooShortToReadAreNotForgotten) {
  const auto plan = plan_of({"output-frame"});
  auto record = run(plan);
  const BoardTime middle{(record.segments[0].begin.count + record.segments[0].end.count) / 2};
  record.events.push_back({middle, capture::EventKind::unseen_runt, 1, middle, ""});
  EXPECT_EQ(judge::judge_run(plan, record).verdict, Verdict::fail);
}

TEST(SignalLossCheck, EachModeIsTimedFromTheFirstInputLost) {
  const auto r = judged(R"({"check": "signal-loss"})", {});
  EXPECT_EQ(r.verdict, Verdict::pass) << r.summary;
  for (const char* mode : {"all inputs silent", "throttle alone silent", "steering alone stuck high", "all inputs stuck low"}) {
    const auto* m = measure(r, std::string("time to safe, ") + mode);
    ASSERT_NE(m, nullptr) << mode;
    EXPECT_GT(m->measured, 240) << mode;  // the controller waits 250 ms
    EXPECT_LT(m->measured, 300) << mode;
  }
}

TEST(SignalLossCheck, TimeRunsFromTheFirstOfTheInputsLost) {
  const auto apart = [](script::Plan& p) { p.frame.phase_us = {{"throttle", 500}, {"steering", 12500}}; };
  const auto r = judged(R"({"check": "signal-loss"})", with([](auto& b) { b.frame_ms = 5; }), apart);
  const auto* m = measure(r, "time to safe, all inputs silent");
  EXPECT_GT(m->measured, 249) << "the throttle's last pulse came 12 ms before the steering's; the controller waits 250 ms";
  EXPECT_LT(m->measured, 258);
}

TEST(SignalLossCheck, WatchShorterThanTheLimitProvesNoFail) {
  const auto r = judged(R"({"check": "signal-loss", "watch_ms": 300})", with([](auto& b) { b.hold_last = true; }));
  const auto* m = measure(r, "time to safe, all inputs silent");
  EXPECT_EQ(m->verdict, Verdict::inconclusive);
  EXPECT_NE(m->note.find("when the watch ended"), std::string::npos) << m->note;
  EXPECT_NE(r.summary.find("when the watch ended"), std::string::npos) << r.summary;
}

TEST(SignalLossCheck, TimeThatWasNeverReachedIsToldAsABoundAndNotAsAReading) {
  const auto r = judged(R"({"check": "signal-loss"})", with([](auto& b) { b.hold_last = true; }));
  EXPECT_EQ(r.verdict, Verdict::fail);
  EXPECT_NE(r.summary.find(": never safe within 8"), std::string::npos) << r.summary;
  EXPECT_NE(r.summary.find(" ms; at most 500.0 ms is allowed"), std::string::npos) << r.summary;
  const auto* m = measure(r, "time to safe, all inputs silent");
  EXPECT_EQ(m->never, "never safe");
  EXPECT_GT(m->measured, 500) << "how long it was watched";
  EXPECT_LE(m->measured, 820) << "how long it was watched";
  EXPECT_NE(m->note.find("when the watch ended: "), std::string::npos) << m->note;
}

TEST(SignalLossCheck, TimeThatWasReachedIsAReading) {
  const auto r = judged(R"({"check": "signal-loss"})", {});
  for (const auto& m : r.measures) EXPECT_EQ(m.never, "") << m.name;
}

TEST(SignalLossCheck, IgnoredChannelFailsOnlyItsOwnModes) {
  const auto r = judged(R"({"check": "signal-loss"})", with([](auto& b) { b.ignore_steering_loss = true; }));
  EXPECT_EQ(r.verdict, Verdict::fail);
  EXPECT_EQ(measure(r, "time to safe, steering alone silent")->verdict, Verdict::fail);
  EXPECT_EQ(measure(r, "time to safe, throttle alone silent")->verdict, Verdict::pass);
  EXPECT_EQ(measure(r, "time to safe, all inputs silent")->verdict, Verdict::pass);
}

TEST(SignalLossCheck, KickOnTheWayFails) {
  const auto r = judged(R"({"check": "signal-loss"})", with([](auto& b) { b.kick_on_loss = true; }));
  EXPECT_EQ(measure(r, "kick on the way to safe")->verdict, Verdict::fail) << r.summary;
}

TEST(SignalLossCheck, OvereagerControllerTripsOnAShortGap) {
  const auto r = judged(R"({"check": "signal-loss"})", with([](auto& b) { b.eager_loss = true; }));
  EXPECT_EQ(measure(r, "trips on a gap of 3 frames")->verdict, Verdict::fail) << r.summary;
  EXPECT_EQ(measure(r, "time to safe, all inputs silent")->verdict, Verdict::pass);
}

TEST(SignalLossCheck, SilenceIsSafeOnlyWhereTheSpecSaysSo) {
  const auto silent = with([](auto& b) { b.silent_on_loss = true; });
  EXPECT_EQ(judged(R"({"check": "signal-loss"})", silent).verdict, Verdict::fail);
  const auto allowed = judged(R"({"check": "signal-loss"})", silent, [](auto& p) { p.spec.loss.pulses_may_stop = true; });
  EXPECT_EQ(allowed.verdict, Verdict::pass) << allowed.summary;
}

TEST(SignalLossCheck, ControllerThatWasNotDrivenProvesNothing) {
  const auto r = judged(R"({"check": "signal-loss"})", with([](auto& b) { b.never_arms = true; }));
  EXPECT_EQ(r.verdict, Verdict::inconclusive) << r.summary;
  const auto* m = measure(r, "time to safe, all inputs silent");
  EXPECT_EQ(m->verdict, Verdict::inconclusive);
  EXPECT_EQ(m->samples, 0);
}

TEST(SignalLossCheck, LateIsLate) {
  EXPECT_EQ(judged(R"({"check": "signal-loss"})", with([](auto& b) { b.lost_ms = 520; })).verdict, Verdict::fail);
}

TEST(RecoveryCheck, DrivingAtOnceOnReturnFails) {
  const auto r = judged(R"({"check": "recovery"})", with([](auto& b) { b.no_arming = true; }));
  EXPECT_EQ(r.verdict, Verdict::fail);
  EXPECT_EQ(measure(r, "left off neutral before the sticks were")->verdict, Verdict::fail);
}

TEST(RecoveryCheck, NeutralTooShortMustNotArm) {
  const auto r = judged(R"({"check": "recovery"})", with([](auto& b) { b.arm_ms = 100; }));
  EXPECT_EQ(r.verdict, Verdict::fail) << r.summary;
}

TEST(RecoveryCheck, ControllerThatNeverComesBackFails) {
  auto plan = plan_of({"recovery"});
  // Arms the first time only after the neutral before the loss; the neutral after it is too short for this one.
  const auto r = judge::judge_run(plan, run(plan, with([](auto& b) { b.arm_ms = 1200; }))).checks[0];
  EXPECT_NE(r.verdict, Verdict::pass);
}

TEST(RecoveryCheck, WithoutASafeStateThereIsNothingToRecoverFrom) {
  const auto r = judged(R"({"check": "recovery"})", with([](auto& b) { b.hold_last = true; }));
  EXPECT_EQ(r.verdict, Verdict::inconclusive);
  EXPECT_NE(r.summary.find("signal loss"), std::string::npos);
}

TEST(PowerUpCheck, RuntIsSeenAndShown) {
  const auto r = judged(R"({"check": "power-up"})", with([](auto& b) { b.runt_at_boot = true; }));
  EXPECT_EQ(measure(r, "left power-ups with a runt")->verdict, Verdict::fail);
  EXPECT_EQ(measure(r, "right power-ups with a runt")->verdict, Verdict::pass);
  EXPECT_EQ(r.evidence.front().label, "runt of 16.0 us on the left output");
}

TEST(PowerUpCheck, HighsUpToTheRuntParameterAreNotCounted) {
  const auto r = judged(R"({"check": "power-up", "runt_us": 20})", with([](auto& b) { b.runt_at_boot = true; }));
  EXPECT_EQ(r.verdict, Verdict::pass) << r.summary;
}

TEST(PowerUpCheck, SampleSizeBoundsTheRate) {
  const auto r = judged(R"({"check": "power-up"})", {});
  EXPECT_NE(measure(r, "left power-ups with a runt")->note.find("rate below 39 %"), std::string::npos)
      << measure(r, "left power-ups with a runt")->note;
}

TEST(PowerUpCheck, UnseenRuntOfAPinChangeLineCounts) {
  const auto plan = plan_of({"power-up"});
  auto record = run(plan);
  BoardTime on{};
  for (const auto& e : record.events)
    if (e.kind == capture::EventKind::power_on) on = e.at;
  record.events.push_back({on + BoardSpan{16'000}, capture::EventKind::unseen_runt, 255, on + BoardSpan{16'000}, ""});
  EXPECT_EQ(judge::judge_run(plan, record).verdict, Verdict::fail);
}

TEST(PowerUpCheck, DrivingWithTheStickOffCentreFails) {
  const auto r = judged(R"({"check": "power-up"})", with([](auto& b) { b.no_arming = true; }));
  EXPECT_EQ(measure(r, "left off neutral before arming")->verdict, Verdict::fail) << r.summary;
}

TEST(PowerUpCheck, SlowBootFails) {
  const auto r = judged(R"({"check": "power-up"})", with([](auto& b) { b.boot_ms = 1100; }));
  EXPECT_EQ(measure(r, "right first neutral pulse")->verdict, Verdict::fail);
  EXPECT_NEAR(measure(r, "right first neutral pulse")->measured, 1101, 2);
}

TEST(PowerUpCheck, ControllerThatNeverBootsAgainFails) {
  auto plan = plan_of({"power-up"});
  auto record = run(plan);
  BoardTime off{};
  for (const auto& e : record.events)
    if (e.kind == capture::EventKind::power_off && off.count == 0) off = e.at;
  std::erase_if(record.response, [&](const auto& e) { return e.at > off; });
  const auto result = judge::judge_run(plan, record);
  EXPECT_EQ(result.verdict, Verdict::fail) << told(result);
  EXPECT_EQ(measure(result.checks.at(0), "left first neutral pulse")->never, "none seen") << told(result);
}

TEST(PowerUpCheck, WatchShorterThanTheLimitProvesNoFail) {
  const auto r = judged(R"({"check": "power-up", "watch_ms": 400})", with([](auto& b) { b.boot_ms = 600; }));
  EXPECT_EQ(measure(r, "left first neutral pulse")->verdict, Verdict::inconclusive) << r.summary;
}

TEST(PowerUpCheck, OffsetOnceArmedIsNotItsMatter) {
  EXPECT_EQ(judged(R"({"check": "power-up"})", with([](auto& b) { b.armed_off_us = 8; })).verdict, Verdict::pass);
}

TEST(PowerUpCheck, MissingPowerEventIsInconclusive) {
  const auto plan = plan_of({"power-up"});
  auto record = run(plan);
  record.events.pop_back();
  EXPECT_EQ(judge::judge_run(plan, record).verdict, Verdict::inconclusive);
}

}  // namespace
}  // namespace midstick::judge_test
