// Sign matrix, saturation, symmetry and monotonic: each seen failing, on its own fault and with its cause, and passing on the others'
// faults.
#include <gtest/gtest.h>

#include "tests/judge/world.hpp"

namespace midstick::judge_test {
namespace {

using judge::Verdict;

judge::CheckResult judged(const std::string& kind, const Behaviour& controller, const std::function<void(script::Plan&)>& change = {}) {
  auto plan = plan_of({kind});
  if (change) change(plan);
  return judge::judge_run(plan, run(plan, controller)).checks[0];
}

struct Fault {
  const char* name;
  std::function<void(Behaviour&)> plant;
  const char* fails;  ///< of the four, in this file's order
  const char* cause;
};

const Fault kFaults[] = {
    {"plain clip", [](Behaviour& b) { b.clip = true; }, "saturation", "plain-clip"},
    {"throttle priority", [](Behaviour& b) { b.law = mixer::Law::throttle_priority; }, "saturation", "wrong-law"},
    {"steering priority", [](Behaviour& b) { b.law = mixer::Law::steering_priority; }, "saturation", "wrong-law"},
    {"steering flips in reverse", [](Behaviour& b) { b.flip_in_reverse = true; }, "sign-matrix", "steering-flips"},
    {"right output reversed", [](Behaviour& b) { b.right_reversed = true; }, "sign-matrix", "reversed-or-swapped"},
    {"steering reversed", [](Behaviour& b) { b.steering_reversed = true; }, "sign-matrix", "reversed-or-swapped"},
    {"sides swapped", [](Behaviour& b) { b.sides_swapped = true; }, "sign-matrix", "reversed-or-swapped"},
    {"right side weak", [](Behaviour& b) { b.right_gain = 0.9; }, "symmetry", "side-gain"},
    {"wrap at 256 counts of 1 us", [](Behaviour& b) { b.wrap_us = 256; }, "monotonic", "integer-overflow"},
    {"wrap at 128 counts of 1 us", [](Behaviour& b) { b.wrap_us = 128; }, "monotonic", "integer-overflow"},
};

TEST(MixChecks, EachFaultFailsItsCheckWithItsCause) {
  for (const Fault& f : kFaults) {
    const auto r = judged(f.fails, with(f.plant));
    EXPECT_EQ(r.verdict, Verdict::fail) << f.name << ": " << r.summary;
    EXPECT_EQ(first_cause(r), f.cause) << f.name << ": " << r.summary;
    ASSERT_FALSE(r.evidence.empty()) << f.name;
    EXPECT_TRUE(r.evidence.front().failing) << f.name;
  }
}

/// Which of the four fail with a fault, blank between.
std::string failing(const Behaviour& b) {
  const auto plan = plan_of({"sign-matrix", "saturation", "symmetry", "monotonic"});
  return those(judge::judge_run(plan, run(plan, b)), Verdict::fail);
}

TEST(MixChecks, StayWithTheirOwnMatter) {
  EXPECT_EQ(failing({}), "");
  EXPECT_EQ(failing(with([](auto& b) { b.clip = true; })), "saturation");
  EXPECT_EQ(failing(with([](auto& b) { b.flip_in_reverse = true; })), "sign-matrix");
  EXPECT_EQ(failing(with([](auto& b) { b.no_dead_band = true; })), "");
  EXPECT_EQ(failing(with([](auto& b) { b.armed_off_us = 8; })), "");
  EXPECT_EQ(failing(with([](auto& b) { b.outlier_us = 20; })), "") << "one pulse that is long is no jump of the mix";
}

TEST(MixChecks, PassOnEveryLawOfTheSpec) {
  using mixer::Law;
  for (const Law law : {Law::clip, Law::throttle_priority, Law::steering_priority, Law::blend, Law::halved})
    for (const char* kind : {"sign-matrix", "saturation", "symmetry", "monotonic"}) {
      const auto r = judged(kind, {}, [law](script::Plan& p) { p.spec.law = law, p.spec.blend = 0.8; });
      EXPECT_EQ(r.verdict, Verdict::pass) << kind << ' ' << static_cast<int>(law) << ": " << r.summary;
    }
}

TEST(MixChecks, ALopsidedSpecIsJudgedByItself) {
  const auto lopsided = [](script::Plan& p) {
    p.spec.left.reverse_limit = p.spec.right.reverse_limit = 0.5;
    p.spec.right.high_us = 1900, p.spec.right.reversed = true, p.spec.left.trim_us = 6;
    p.spec.throttle.expo = 0.3;
  };
  for (const char* kind : {"sign-matrix", "saturation", "symmetry", "monotonic"}) {
    const auto r = judged(kind, {}, lopsided);
    EXPECT_EQ(r.verdict, Verdict::pass) << kind << ": " << r.summary;
  }
}

TEST(MixChecks, JitterOfTheReceiverIsNoFault) {
  for (const char* kind : {"sign-matrix", "saturation", "symmetry", "monotonic"}) {
    const auto r = judged(kind, {}, [](script::Plan& p) { p.frame.jitter_us = 3, p.frame.dither_us = 50; });
    EXPECT_EQ(r.verdict, Verdict::pass) << kind << ": " << r.summary;
  }
}

TEST(SignMatrixCheck, NoMovementIsAWrongOne) {
  const auto r = judged("sign-matrix", with([](auto& b) { b.never_arms = true; }));
  EXPECT_EQ(r.verdict, Verdict::fail);
  EXPECT_TRUE(r.causes.empty()) << "no reversed line explains that";
}

TEST(SymmetryCheck, TellsTheGainFromAnEndpoint) {
  const auto gain = judged("symmetry", with([](auto& b) { b.right_gain = 0.9; }));
  ASSERT_FALSE(gain.causes.empty());
  EXPECT_NE(gain.causes.at(0).reason.find("times as strongly as left"), std::string::npos) << gain.causes[0].reason;
  const auto end = judged("symmetry", with([](auto& b) { b.right_low_us = 1100; }));
  EXPECT_EQ(end.verdict, Verdict::fail);
  EXPECT_NE(first_cause(end), "side-gain");
}

TEST(MonotonicCheck, SaysWhereItJumps) {
  const auto r = judged("monotonic", with([](auto& b) { b.wrap_us = 256; }));
  ASSERT_FALSE(r.causes.empty());
  EXPECT_NE(r.causes.at(0).reason.find("us from centre"), std::string::npos) << r.causes[0].reason;
  EXPECT_EQ(measure(r, "left furthest jump past the model's")->verdict, Verdict::fail);
  EXPECT_EQ(measure(r, "left furthest step back")->verdict, Verdict::fail);
}

TEST(MonotonicCheck, AnOutlierIsNoOverflow) {
  const auto r = judged("monotonic", with([](auto& b) { b.outlier_us = 300; }));
  EXPECT_EQ(r.verdict, Verdict::fail);
  EXPECT_TRUE(r.causes.empty()) << r.causes[0].reason;
}

TEST(MixChecks, TakeAtMostTenSecondsEach) {
  for (const char* kind : {"sign-matrix", "saturation", "symmetry", "monotonic"})
    EXPECT_LT(length_ms(run(plan_of({kind}))), 10'000) << kind;
}

}  // namespace
}  // namespace midstick::judge_test
