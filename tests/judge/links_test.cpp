// The checks on the receiver's side: each passes on a correct controller, and fails on the fault it is about, with the cause named.
#include <gtest/gtest.h>

#include "tests/judge/world.hpp"

namespace midstick::judge_test {
namespace {

using judge::Verdict;

judge::CheckResult judged(const std::string& check_json, const std::function<void(Behaviour&)>& fault = {},
                          const std::function<void(script::Plan&)>& change = {}) {
  auto plan = plan_with("[" + check_json + "]");
  if (change) change(plan);
  Behaviour b;
  if (fault) fault(b);
  return judge::judge_run(plan, run(plan, b)).checks[0];
}

TEST(GapsCheck, FindsTheFewestFramesThatTrip) {
  const auto r = judged(R"({"check": "gaps"})");
  EXPECT_EQ(r.verdict, Verdict::pass) << r.summary;
  // 250 ms without a pulse: 12 lost frames are 260 ms.
  EXPECT_NEAR(measure(r, "fewest lost frames that trip")->measured, 13, 1) << measure(r, "fewest lost frames that trip")->note;
}

TEST(GapsCheck, TooShortALossTimeFails) {
  const auto r = judged(R"({"check": "gaps"})", [](auto& b) { b.lost_ms = 50; });
  EXPECT_EQ(r.verdict, Verdict::fail) << r.summary;
  EXPECT_EQ(first_cause(r), "loss-timeout-short");
  EXPECT_EQ(measure(r, "trips on a gap of 68 ms")->verdict, Verdict::fail);
}

TEST(GapsCheck, SpecThatToleratesNothingIsNotHeldAgainstIt) {
  const auto none = [](script::Plan& p) { p.spec.loss.tolerate_frames = 0; };
  EXPECT_EQ(judged(R"({"check": "gaps"})", [](auto& b) { b.lost_ms = 50; }, none).verdict, Verdict::pass);
}

TEST(GapsCheck, ControllerThatNeverTripsIsAnotherChecksMatter) {
  const auto r = judged(R"({"check": "gaps"})", [](auto& b) { b.hold_last = true, b.lost_ms = 5000; });
  EXPECT_EQ(r.verdict, Verdict::pass) << r.summary;
  EXPECT_NE(measure(r, "fewest lost frames that trip")->note.find("none tripped"), std::string::npos);
}

TEST(GapsCheck, ControllerThatWasNotDrivenProvesNothing) {
  EXPECT_EQ(judged(R"({"check": "gaps"})", [](auto& b) { b.never_arms = true; }).verdict, Verdict::inconclusive);
}

TEST(WildFramesCheck, MoreThanTheSpecHidesMayShowButNotLinger) {
  EXPECT_EQ(judged(R"({"check": "wild-frames"})").verdict, Verdict::pass);
  const auto r = judged(R"({"check": "wild-frames"})", [](auto& b) { b.delay_ms = 60; });
  EXPECT_EQ(r.verdict, Verdict::fail) << r.summary;
}

TEST(WildFramesCheck, FilterThatTheSpecAsksForMustBeThere) {
  const auto hides_one = [](script::Plan& p) { p.spec.receiver.wild_frames = 1; };
  const auto without = judged(R"({"check": "wild-frames"})", {}, hides_one);
  EXPECT_EQ(without.verdict, Verdict::fail) << without.summary;
  EXPECT_EQ(first_cause(without), "wild-frame-obeyed");
  const auto with_median = judged(R"({"check": "wild-frames"})", [](auto& b) { b.median = 3; },
                                  [&](auto& p) {
                                    hides_one(p);
                                    p.spec.latency_max_ms = 80;
                                  });
  EXPECT_EQ(with_median.verdict, Verdict::pass) << with_median.summary;
}

TEST(TornValueCheck, HalfOfEachWidthIsFoundAndNamed) {
  const auto r = judged(R"({"check": "torn-value"})", [](auto& b) { b.torn_every = 150; });
  EXPECT_EQ(r.verdict, Verdict::fail) << r.summary;
  EXPECT_EQ(first_cause(r), "torn-read");
  ASSERT_FALSE(r.causes.empty());
  EXPECT_NE(r.causes.at(0).reason.find("256 counts of 0.5 us"), std::string::npos) << r.causes[0].reason;
}

TEST(TornValueCheck, SlipOfTheClockIsToldFromATear) {
  const auto r = judged(R"({"check": "torn-value"})", [](auto& b) { b.slip_every = 150; });
  EXPECT_EQ(r.verdict, Verdict::fail) << r.summary;
  EXPECT_EQ(first_cause(r), "time-base-slip");
}

TEST(TornValueCheck, OtherOutliersNameNoCause) {
  const auto r = judged(R"({"check": "torn-value"})", [](auto& b) { b.outlier_us = 190; });
  EXPECT_EQ(r.verdict, Verdict::fail);
  EXPECT_TRUE(r.causes.empty()) << first_cause(r);
}

TEST(SaveStallCheck, LongFrameWhileSettingsAreSavedFails) {
  EXPECT_EQ(judged(R"({"check": "save-stall"})").verdict, Verdict::pass);
  const auto r = judged(R"({"check": "save-stall"})", [](auto& b) { b.save_after_ms = 2000; });
  EXPECT_EQ(r.verdict, Verdict::fail) << r.summary;
  EXPECT_EQ(first_cause(r), "save-stall");
  ASSERT_FALSE(r.causes.empty());
  EXPECT_NE(r.causes.at(0).reason.find("s into the rest at speed"), std::string::npos) << r.causes[0].reason;
}

TEST(SaveStallCheck, RegularOutliersAreNoSave) {
  const auto r = judged(R"({"check": "save-stall"})", [](auto& b) { b.outlier_us = 75; });
  EXPECT_EQ(r.verdict, Verdict::fail) << r.summary;
  EXPECT_TRUE(r.causes.empty()) << first_cause(r);
}

TEST(RestartCheck, PassesWhenItStartsAnew) { EXPECT_EQ(judged(R"({"check": "restart"})").verdict, Verdict::pass); }

TEST(RestartCheck, ArmedStateKeptOverTheResetFails) {
  const auto r = judged(R"({"check": "restart"})", [](auto& b) { b.armed_over_reset = true; });
  EXPECT_EQ(r.verdict, Verdict::fail) << r.summary;
  EXPECT_EQ(first_cause(r), "armed-after-restart");
}

TEST(RestartCheck, CentreLearntOffCentreFails) {
  const auto r = judged(R"({"check": "restart"})", [](auto& b) { b.learns_centre = true; });
  EXPECT_EQ(r.verdict, Verdict::fail) << r.summary;
  EXPECT_EQ(first_cause(r), "poisoned-calibration");
}

TEST(RestartCheck, ResetLineThatIsNotWiredProvesNothing) {
  const auto r = judged(R"({"check": "restart"})", [](auto& b) { b.ignores_reset = true; });
  EXPECT_EQ(r.verdict, Verdict::inconclusive) << r.summary;
  EXPECT_NE(r.summary.find("wired"), std::string::npos);
}

TEST(ChatteringLinkCheck, LiveAgainWithoutNeutralFails) {
  EXPECT_EQ(judged(R"({"check": "chattering-link"})").verdict, Verdict::pass);
  const auto r = judged(R"({"check": "chattering-link"})", [](auto& b) { b.no_arming = true, b.lost_ms = 90; });
  EXPECT_EQ(r.verdict, Verdict::fail) << r.summary;
  EXPECT_EQ(first_cause(r), "no-rearm");
}

TEST(ChatteringLinkCheck, EagerButLatchedControllerPasses) {
  const auto r = judged(R"({"check": "chattering-link"})", [](auto& b) { b.lost_ms = 90; });
  EXPECT_EQ(r.verdict, Verdict::pass) << r.summary;
}

TEST(ChatteringLinkCheck, LiveAfterAGlimpseOfNeutralFails) {
  const auto r = judged(R"({"check": "chattering-link"})", [](auto& b) { b.arm_ms = 100; });
  EXPECT_EQ(r.verdict, Verdict::fail) << r.summary;
  EXPECT_EQ(first_cause(r), "rearm-too-soon");
}

TEST(ChannelPhaseCheck, OverlapThatHidesAChannelIsFound) {
  const auto good = judged(R"({"check": "channel-phase"})");
  EXPECT_EQ(good.verdict, Verdict::pass) << good.summary;
  const auto r = judged(R"({"check": "channel-phase"})", [](auto& b) { b.hides_overlap = true; });
  EXPECT_EQ(r.verdict, Verdict::fail) << r.summary;
  EXPECT_EQ(first_cause(r), "phase-dependent");
  ASSERT_FALSE(r.causes.empty());
  EXPECT_NE(r.causes.at(0).reason.find("steering stale"), std::string::npos) << r.causes[0].reason;
}

TEST(ChannelPhaseCheck, SlowInEveryPhaseIsNoMatterOfPhase) {
  const auto r = judged(R"({"check": "channel-phase"})", [](auto& b) { b.delay_ms = 90; });
  EXPECT_EQ(r.verdict, Verdict::fail) << r.summary;
  EXPECT_TRUE(r.causes.empty()) << first_cause(r);
}

TEST(InputRateCheck, FramesTooFastForTheProgramFail) {
  const auto good = judged(R"({"check": "input-rate"})");
  EXPECT_EQ(good.verdict, Verdict::pass) << good.summary;
  const auto r = judged(R"({"check": "input-rate"})", [](auto& b) { b.least_period_ms = 10; });
  EXPECT_EQ(r.verdict, Verdict::fail) << r.summary;
  EXPECT_EQ(first_cause(r), "frame-rate-limit");
}

TEST(InputRateCheck, SlowFramesTakenForALossFail) {
  const auto r = judged(R"({"check": "input-rate"})", [](auto& b) { b.lost_ms = 40; });
  EXPECT_EQ(r.verdict, Verdict::fail) << r.summary;
  EXPECT_EQ(first_cause(r), "loss-timeout-short");
}

TEST(InputRateCheck, OutputsRenewedTooSeldomFail) {
  const auto r = judged(R"({"check": "input-rate"})", [](auto& b) { b.updates_every = 2; });
  EXPECT_EQ(r.verdict, Verdict::fail) << r.summary;
  EXPECT_EQ(measure(r, "fewest updates, of what the slower frame allows")->verdict, Verdict::fail);
}

TEST(InputRateCheck, OnlyThePeriodsOfTheSpecAreTried) {
  const auto upto_25 = [](script::Plan& p) { p.spec.receiver.period_low_ms = 14, p.spec.receiver.period_high_ms = 25; };
  EXPECT_EQ(judged(R"({"check": "input-rate"})", [](auto& b) { b.lost_ms = 40, b.least_period_ms = 10; }, upto_25).verdict, Verdict::pass);
}

TEST(PlausibilityCheck, EveryWidthObeyedFails) {
  const auto good = judged(R"({"check": "plausibility"})");
  EXPECT_EQ(good.verdict, Verdict::pass) << good.summary;
  const auto r = judged(R"({"check": "plausibility"})", [](auto& b) { b.no_window = true; });
  EXPECT_EQ(r.verdict, Verdict::fail) << r.summary;
  EXPECT_EQ(first_cause(r), "no-window");
}

TEST(PlausibilityCheck, WidthsCutTo16BitsAreToldFromNoWindow) {
  const auto r = judged(R"({"check": "plausibility"})", [](auto& b) { b.width_cut = true; });
  EXPECT_EQ(r.verdict, Verdict::fail) << r.summary;
  EXPECT_EQ(first_cause(r), "width-cut");
}

TEST(PlausibilityCheck, WindowTooNarrowFails) {
  const auto wider = [](script::Plan& p) { p.spec.receiver.accept_low_us = 660, p.spec.receiver.reject_low_us = 500; };
  const auto r = judged(R"({"check": "plausibility"})", {}, wider);
  EXPECT_EQ(r.verdict, Verdict::fail) << r.summary;
  EXPECT_EQ(first_cause(r), "narrow-window");
}

TEST(RuntsCheck, SpikesThatPairWithPulsesFail) {
  const auto good = judged(R"({"check": "runts"})");
  EXPECT_EQ(good.verdict, Verdict::pass) << good.summary;
  const auto r = judged(R"({"check": "runts"})", [](auto& b) { b.pairs_runts = true; });
  EXPECT_EQ(r.verdict, Verdict::fail) << r.summary;
  EXPECT_EQ(first_cause(r), "runt-pairing");
}

std::string loss_cause(const std::function<void(Behaviour&)>& fault) {
  const auto r = judged(R"({"check": "signal-loss"})", fault);
  return r.verdict == Verdict::fail ? first_cause(r) : judge::name(r.verdict);
}

TEST(SignalLossCheck, NamesWhatTheOutputsDidInsteadOfStopping) {
  EXPECT_EQ(loss_cause([](auto& b) { b.hold_last = true; }), "no-loss-action");
  EXPECT_EQ(loss_cause([](auto& b) { b.ignore_steering_loss = true; }), "one-channel-loss");
  EXPECT_EQ(loss_cause([](auto& b) { b.high_is_alive = true; }), "frozen-line");
  EXPECT_EQ(loss_cause([](auto& b) { b.timeout_is_zero = true; }), "timeout-as-pulse");
  EXPECT_EQ(loss_cause([](auto& b) { b.lost_off_us = -60; }), "safe-level-wrong");
  EXPECT_EQ(loss_cause([](auto& b) { b.lost_off_us = -500; }), "safe-level-wrong");
  EXPECT_EQ(loss_cause([](auto& b) { b.kick_on_loss = true; }), "loss-kick");
  EXPECT_EQ(loss_cause([](auto& b) { b.lost_ramp_ms = 1500; }), "slew-on-loss");
  EXPECT_EQ(loss_cause([](auto& b) { b.high_on_loss = true; }), "line-left-high");
  EXPECT_EQ(loss_cause([](auto& b) { b.eager_loss = true; }), "loss-timeout-short");
  EXPECT_EQ(loss_cause([](auto& b) { b.lost_ms = 560; }), "loss-timeout-long");
}

TEST(SignalLossCheck, ShortGapIsJudgedUnderADitheredReceiver) {
  for (const std::uint64_t seed : {1u, 2u, 3u, 4u, 5u, 6u}) {
    const auto dithered = [&](script::Plan& p) { p.frame.dither_us = 2000, p.seed = seed; };
    const auto good = judged(R"({"check": "signal-loss", "modes": ["all"]})", {}, dithered);
    EXPECT_EQ(good.verdict, Verdict::pass) << "seed " << seed << ' ' << good.summary;
    const auto bad = judged(R"({"check": "signal-loss", "modes": ["all"]})", [](auto& b) { b.eager_loss = true; }, dithered);
    EXPECT_EQ(bad.verdict, Verdict::fail) << "seed " << seed << ' ' << bad.summary;
  }
}

TEST(RecoveryCheck, TellsNoRearmFromTooSoon) {
  EXPECT_EQ(first_cause(judged(R"({"check": "recovery"})", [](auto& b) { b.no_arming = true; })), "no-rearm");
  EXPECT_EQ(first_cause(judged(R"({"check": "recovery"})", [](auto& b) { b.arm_ms = 100; })), "rearm-too-soon");
}

}  // namespace
}  // namespace midstick::judge_test
