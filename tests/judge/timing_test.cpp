// The checks about how outputs are made: each fails on its fault, names the cause, and names none where the numbers do not fit.
#include <gtest/gtest.h>

#include "tests/judge/world.hpp"

namespace midstick::judge_test {
namespace {

using judge::Verdict;

judge::CheckResult judged(const std::string& check_json, const std::function<void(Behaviour&)>& change = {}) {
  const auto plan = plan_with("[" + check_json + "]");
  Behaviour b;
  if (change) change(b);
  return judge::judge_run(plan, run(plan, b)).checks[0];
}

std::string first_cause(const judge::CheckResult& r) { return r.causes.empty() ? "" : r.causes.front().id; }

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
  EXPECT_EQ(measure(r, "median skew of new widths")->samples, 24) << all_of(r);
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

TEST(MidPulseCheck, ALateControllerIsNoFaultOfItsPulses) {
  const auto r = judged(R"({"check": "mid-pulse"})", [](auto& b) { b.delay_ms = 18; });
  EXPECT_EQ(r.verdict, Verdict::pass) << all_of(r);
}

}  // namespace
}  // namespace midstick::judge_test
