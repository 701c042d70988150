// ESC arming and brake-reverse: an ESC on each output, fed with what the controller sent.
#include <gtest/gtest.h>

#include <stdexcept>

#include "daemon/esc/presets.hpp"
#include "tests/judge/world.hpp"

namespace midstick::judge_test {
namespace {

using judge::Verdict;

judge::CheckResult judged(const std::string& kind, const Behaviour& controller, const char* preset = nullptr) {
  auto plan = plan_of({kind});
  if (preset) plan.spec.left.esc = plan.spec.right.esc = esc::preset(preset, 1000, 1500, 2000);
  return judge::judge_run(plan, run(plan, controller)).checks[0];
}

TEST(EscArmingCheck, PassesWithEveryPreset) {
  for (const auto& p : esc::presets()) {
    const auto r = judged("esc-arming", {}, p.name);
    EXPECT_EQ(r.verdict, Verdict::pass) << p.name << ": " << r.summary;
  }
}

TEST(EscArmingCheck, SlowBootIsTold) {
  const auto r = judged("esc-arming", with([](auto& b) { b.boot_ms = 1500; }));
  EXPECT_EQ(r.verdict, Verdict::fail) << r.summary;
  EXPECT_EQ(first_cause(r), "slow-boot");
  EXPECT_EQ(measure(r, "left first pulse that the ESC takes for neutral")->verdict, Verdict::fail);
}

TEST(EscArmingCheck, AStrictEscLocksOutWhereAPatientOneWaits) {
  const auto slow = with([](auto& b) { b.boot_ms = 1900; });
  const auto r = judged("esc-arming", slow, "strict");
  EXPECT_EQ(measure(r, "left power-ups locked out")->verdict, Verdict::fail) << r.summary;
  EXPECT_THROW(measure(judged("esc-arming", slow), "left power-ups locked out"), std::runtime_error);
}

TEST(EscArmingCheck, HighPulsesAtBootEnterTheLearnMode) {
  const auto r = judged("esc-arming", with([](auto& b) { b.boot_high_ms = 1100; }));
  EXPECT_EQ(r.verdict, Verdict::fail) << r.summary;
  EXPECT_EQ(first_cause(r), "learn-mode");
  EXPECT_EQ(measure(r, "left power-ups into the ESC's learn mode")->measured, 3) << "whatever the sticks do";
  EXPECT_EQ(r.causes.size(), 1U);
}

TEST(EscArmingCheck, DrivingWithoutNeutralShowsAtFullThrottleOnly) {
  const auto r = judged("esc-arming", with([](auto& b) { b.no_arming = true; }));
  EXPECT_EQ(r.verdict, Verdict::fail) << r.summary;
  EXPECT_EQ(measure(r, "left power-ups into the ESC's learn mode")->measured, 1);
  ASSERT_EQ(r.causes.size(), 2U);
  EXPECT_EQ(r.causes[1].id, "drives-without-neutral");
}

TEST(EscArmingCheck, NeutralOutsideTheEscsBandNeverArmsIt) {
  const auto r = judged("esc-arming", with([](auto& b) { b.neutral_off_us = 60; }));
  EXPECT_EQ(r.verdict, Verdict::fail) << r.summary;
  EXPECT_EQ(first_cause(r), "neutral-off");
  EXPECT_EQ(judged("esc-arming", with([](auto& b) { b.neutral_off_us = 30; })).verdict, Verdict::pass) << "50 us either side";
  EXPECT_EQ(judged("esc-arming", with([](auto& b) { b.neutral_off_us = 30; }), "counted-arming").verdict, Verdict::fail) << "20 us";
}

TEST(EscArmingCheck, SilenceIsAllowedWhereTheSpecSaysSo) {
  auto plan = plan_of({"esc-arming"});
  const auto quiet = with([](auto& b) { b.silent_on_loss = true; });
  EXPECT_NE(judge::judge_run(plan, run(plan, quiet)).verdict, Verdict::pass);
  plan.spec.loss.pulses_may_stop = true;
  const auto r = judge::judge_run(plan, run(plan, quiet));
  EXPECT_EQ(r.verdict, Verdict::pass) << told(r);
}

TEST(EscArmingCheck, DrawsTheEscsStatesUnderThePulses) {
  const auto r = judged("esc-arming", with([](auto& b) { b.boot_high_ms = 1100; }));
  ASSERT_FALSE(r.pictures.empty());
  ASSERT_EQ(r.pictures[0].lanes.size(), 2U);
  EXPECT_EQ(r.pictures[0].lanes[0].label, "left ESC");
  EXPECT_EQ(r.pictures[0].lanes[0].states.front().label, "waiting");
  EXPECT_EQ(r.pictures[0].lanes[0].states.back().label, "learning");
  EXPECT_TRUE(r.pictures[0].lanes[0].states.back().failing);
}

TEST(BrakeReverseCheck, PassesWithEscsThatReverseByThemselves) {
  for (const char* preset : {"direct", "counted-arming", "strict", "soft-turn", "timed-reverse", "brake-only"}) {
    const auto r = judged("brake-reverse", {}, preset);
    EXPECT_EQ(r.verdict, Verdict::pass) << preset << ": " << r.summary;
  }
}

TEST(BrakeReverseCheck, AnEscThatBrakesFirstSwallowsAReverseAskedAtOnce) {
  for (const char* preset : {"brake-neutral-reverse", "brake-stop-reverse"}) {
    const auto r = judged("brake-reverse", {}, preset);
    EXPECT_EQ(r.verdict, Verdict::fail) << preset << ": " << r.summary;
    EXPECT_EQ(first_cause(r), "brake-swallows-reverse") << preset;
    EXPECT_EQ(measure(r, "left ESC in reverse, back not asked")->verdict, Verdict::pass) << preset;
  }
}

TEST(BrakeReverseCheck, BrakingByReverseIsAnAccident) {
  const auto r = judged("brake-reverse", with([](auto& b) { b.reverse_brake_ms = 300; }));
  EXPECT_EQ(r.verdict, Verdict::fail) << r.summary;
  EXPECT_EQ(first_cause(r), "accidental-reverse");
  EXPECT_EQ(measure(r, "left ESC in reverse, back not asked")->verdict, Verdict::fail);
}

TEST(BrakeReverseCheck, ASideThatNeverGoesBackFails) {
  const auto r = judged("brake-reverse", with([](auto& b) { b.right_low_us = 1470; }));
  EXPECT_EQ(r.verdict, Verdict::fail) << r.summary;
  EXPECT_EQ(measure(r, "right ESC in reverse, back asked")->verdict, Verdict::fail);
  EXPECT_EQ(measure(r, "left ESC in reverse, back asked")->verdict, Verdict::pass);
  EXPECT_TRUE(r.causes.empty()) << "no brake swallowed it";
}

TEST(BrakeReverseCheck, AnEscThatNeverArmedProvesNothing) {
  const auto r = judged("brake-reverse", with([](auto& b) { b.neutral_off_us = 60; }));
  EXPECT_EQ(r.verdict, Verdict::inconclusive) << r.summary;
  EXPECT_NE(r.summary.find("did not arm"), std::string::npos);
}

TEST(EscChecks, StayWithinTheirBoardTime) {
  EXPECT_LT(length_ms(run(plan_of({"brake-reverse"}))), 10'000);
  EXPECT_LT(length_ms(run(plan_of({"esc-arming"}))), 15'000);
}

}  // namespace
}  // namespace midstick::judge_test
