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

std::string first_cause(const judge::CheckResult& r) { return r.causes.empty() ? "" : r.causes.front().id; }

TEST(GapsCheck, FindsTheFewestFramesThatTrip) {
  const auto r = judged(R"({"check": "gaps"})");
  EXPECT_EQ(r.verdict, Verdict::pass) << r.summary;
  // 250 ms without a pulse: 12 lost frames are 260 ms.
  EXPECT_EQ(measure(r, "fewest lost frames that trip")->measured, 12) << measure(r, "fewest lost frames that trip")->note;
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
  const auto with_median = judged(R"({"check": "wild-frames"})", [](auto& b) { b.median = 3; }, [&](auto& p) {
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
  EXPECT_NE(r.causes[0].reason.find("256 counts of 0.5 us"), std::string::npos) << r.causes[0].reason;
}

TEST(TornValueCheck, SlipOfTheClockIsToldFromATear) {
  const auto r = judged(R"({"check": "torn-value"})", [](auto& b) { b.slip_every = 150; });
  EXPECT_EQ(r.verdict, Verdict::fail) << r.summary;
  EXPECT_EQ(first_cause(r), "time-base-slip");
}

TEST(TornValueCheck, OtherOutliersNameNoCause) {
  const auto r = judged(R"({"check": "torn-value"})", [](auto& b) { b.outlier_us = 75; });
  EXPECT_EQ(r.verdict, Verdict::fail);
  EXPECT_TRUE(r.causes.empty()) << first_cause(r);
}

TEST(SaveStallCheck, LongFrameWhileSettingsAreSavedFails) {
  EXPECT_EQ(judged(R"({"check": "save-stall"})").verdict, Verdict::pass);
  const auto r = judged(R"({"check": "save-stall"})", [](auto& b) { b.save_after_ms = 2000; });
  EXPECT_EQ(r.verdict, Verdict::fail) << r.summary;
  EXPECT_EQ(first_cause(r), "save-stall");
  EXPECT_NE(r.causes[0].reason.find("s into the rest at speed"), std::string::npos) << r.causes[0].reason;
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

}  // namespace
}  // namespace midstick::judge_test
