// Where a law or a dead band is continuous, a small step of a stick is a small step of an output; where it jumps, it jumps by so much.
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>

#include "tests/mixer/any_spec.hpp"
#include "tests/mixer/worked_spec.hpp"

namespace midstick::mixer {
namespace {

constexpr double kStep = 1e-7;
constexpr double kSteepest = 200;  // output travel a stick travel: a table of steep steps, a pivot over a tenth of the throttle

RC_GTEST_PROP(Continuity, NoLawJumpsWhereItIsContinuous, ()) {
  MixerSpec spec = any_spec();
  spec.reverse_steering = ReverseSteering::tank;
  spec.quick_turn = 0;
  spec.wheel_limit = std::max(0.1, spec.wheel_limit);
  const double t = between(-1, 1), s = between(-1, 1);
  const Pair here = mix(spec, t, s);
  for (const auto& [dt, ds] : {std::pair{kStep, 0.0}, {0.0, kStep}, {kStep, kStep}, {kStep, -kStep}}) {
    const Pair there = mix(spec, t + dt, s + ds);
    RC_ASSERT(std::abs(here.left - there.left) < kSteepest * kStep && std::abs(here.right - there.right) < kSteepest * kStep);
  }
}

RC_GTEST_PROP(Continuity, NoStickJumpsButByAJumpBand, ()) {
  const InputSpec in = any_input();
  RC_PRE(in.dead_band != DeadBandKind::jump && in.dead_band != DeadBandKind::hysteresis);
  const double width = between(800, 2200);
  RC_ASSERT(std::abs(stick(in, width) - stick(in, width + 1e-6)) < 1e-6);
}

RC_GTEST_PROP(Continuity, AJumpBandJumpsByItsOwnHalfWidthAndNowhereElse, ()) {
  InputSpec in = any_input();
  in.dead_band = DeadBandKind::jump;
  in.square = false, in.expo = 0, in.rate = 1, in.reversed = false;
  const double edge = in.centre_us + in.dead_band_half_us, width = between(800, 2200);
  RC_ASSERT(std::abs(stick(in, edge + 1e-6) - stick(in, edge - 1e-6) - in.dead_band_half_us / (in.high_us - in.centre_us)) < 1e-6);
  const double from_edge = std::abs(std::abs(width - in.centre_us) - in.dead_band_half_us);
  if (from_edge > 1e-5) RC_ASSERT(std::abs(stick(in, width) - stick(in, width + 1e-6)) < 1e-6);
}

double jump_of_left(const MixerSpec& spec, double t, double s) { return mix(spec, t + kStep, s).left - mix(spec, t - kStep, s).left; }

TEST(Jumps, CarSteeringTurnsRoundAtZeroThrottle) {
  MixerSpec spec = plain_spec();
  EXPECT_NEAR(jump_of_left(spec, 0, 0.4), 0, 1e-5);
  spec.reverse_steering = ReverseSteering::car;
  EXPECT_NEAR(jump_of_left(spec, 0, 0.4), 0.8, 1e-5);
}

TEST(Jumps, CurvatureLeavesItsQuickTurn) {
  MixerSpec spec = plain_spec();
  spec.law = Law::curvature, spec.quick_turn = 0.1;
  EXPECT_NEAR(jump_of_left(spec, 0.1, 0.5), -0.5 * 0.9, 1e-5);
  EXPECT_NEAR(jump_of_left(spec, -0.1, 0.5), 0.5 * 0.9, 1e-5);
  EXPECT_NEAR(jump_of_left(spec, 0.2, 0.5), 0, 1e-5);
}

TEST(Jumps, TheOldInnerWheelLeavesItsPivot) {
  MixerSpec spec = plain_spec();
  spec.law = Law::inner_wheel, spec.wheel_limit = 0;
  EXPECT_NEAR(mix(spec, 0, 0.5).right, -0.5, 1e-12);
  EXPECT_NEAR(mix(spec, kStep, 0.5).right, 0, 1e-5);
  spec.wheel_limit = 0.25;
  EXPECT_NEAR(mix(spec, kStep, 0.5).right, -0.5, 1e-5) << "the smooth form goes from one to the other";
}

TEST(Jumps, AStartOffsetLeavesNeutralByItsWholeLength) {
  MixerSpec spec = plain_spec();
  spec.left.start_offset = 0.06;
  EXPECT_DOUBLE_EQ(expected(spec, 1500, 1500).left_us, 1500);
  EXPECT_NEAR(expected(spec, 1500.001, 1500).left_us, 1530, 0.01);
  EXPECT_NEAR(expected(spec, 1499.999, 1500).left_us, 1470, 0.01);
  EXPECT_DOUBLE_EQ(expected(spec, 2000, 1500).left_us, 2000);
}

}  // namespace
}  // namespace midstick::mixer
