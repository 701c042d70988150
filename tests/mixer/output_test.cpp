// Reverse limit, us map, trim, hard clamp, and the interval over uncertain inputs.
#include <gtest/gtest.h>

#include "tests/mixer/worked_spec.hpp"

namespace midstick::mixer {
namespace {

TEST(OutputMap, EachSideHasItsOwnTravel) {
  MixerSpec spec = plain_spec();
  spec.left.low_us = 1100, spec.left.neutral_us = 1460, spec.left.high_us = 1860;
  EXPECT_DOUBLE_EQ(expected(spec, 1500, 1500).left_us, 1460);
  EXPECT_DOUBLE_EQ(expected(spec, 2000, 1500).left_us, 1860);
  EXPECT_DOUBLE_EQ(expected(spec, 1000, 1500).left_us, 1100);
  EXPECT_DOUBLE_EQ(expected(spec, 1750, 1500).left_us, 1660);
  EXPECT_DOUBLE_EQ(expected(spec, 1750, 1500).right_us, 1750);
}

TEST(OutputMap, ReverseLimitScalesReverseOnly) {
  MixerSpec spec = plain_spec();
  spec.left.reverse_limit = 0.5;
  EXPECT_DOUBLE_EQ(expected(spec, 1000, 1500).left_us, 1250);
  EXPECT_DOUBLE_EQ(expected(spec, 2000, 1500).left_us, 2000);
  EXPECT_DOUBLE_EQ(expected(spec, 1000, 1500).right_us, 1000);
}

TEST(OutputMap, ReversedOutputTurnsTheOtherWayAndKeepsItsReverseLimit) {
  MixerSpec spec = plain_spec();
  spec.right.reversed = true;
  spec.right.reverse_limit = 0.5;
  EXPECT_DOUBLE_EQ(expected(spec, 2000, 1500).right_us, 1000);
  EXPECT_DOUBLE_EQ(expected(spec, 1000, 1500).right_us, 1750) << "reverse limit acts before the output is turned";
}

TEST(OutputMap, TrimComesAfterTheMapAndBeforeTheClamp) {
  MixerSpec spec = plain_spec();
  spec.left.trim_us = 6;
  spec.right.trim_us = -6;
  EXPECT_DOUBLE_EQ(expected(spec, 1500, 1500).left_us, 1506);
  EXPECT_DOUBLE_EQ(expected(spec, 1500, 1500).right_us, 1494);
  EXPECT_DOUBLE_EQ(expected(spec, 2000, 1500).left_us, 2000);
  EXPECT_DOUBLE_EQ(expected(spec, 1000, 1500).right_us, 1000);
}

TEST(OutputMap, ClampIsTheLastWord) {
  MixerSpec spec = plain_spec();
  spec.left.clamp_low_us = 1100, spec.left.clamp_high_us = 1900;
  EXPECT_DOUBLE_EQ(expected(spec, 2000, 2000).left_us, 1900);
  EXPECT_DOUBLE_EQ(expected(spec, 1000, 1000).left_us, 1100);
}

TEST(ExpectedWithin, ExactInputsGiveAPoint) {
  const auto range = expected_within(plain_spec(), 1700, 1600, 0);
  EXPECT_DOUBLE_EQ(range.left.low, 1800);
  EXPECT_DOUBLE_EQ(range.left.high, 1800);
  EXPECT_DOUBLE_EQ(range.right.low, 1600);
  EXPECT_DOUBLE_EQ(range.right.high, 1600);
}

TEST(ExpectedWithin, BothInputsMoveTheOutputs) {
  const auto range = expected_within(plain_spec(), 1700, 1600, 4);
  EXPECT_NEAR(range.left.low, 1792, 1e-9);
  EXPECT_NEAR(range.left.high, 1808, 1e-9);
  EXPECT_NEAR(range.right.low, 1592, 1e-9);
  EXPECT_NEAR(range.right.high, 1608, 1e-9);
}

TEST(ExpectedWithin, JumpAtTheDeadBandEdgeBelongsToTheInterval) {
  MixerSpec spec = plain_spec();
  spec.throttle = input_with(DeadBandKind::jump, 25);
  const auto range = expected_within(spec, 1524, 1500, 2);
  EXPECT_NEAR(range.left.low, 1500 - 2, 1e-9) << "throttle inside the band; the 2 us are the steering's";
  EXPECT_NEAR(range.left.high, 1526 + 2, 1e-9) << "throttle beyond the edge";
}

TEST(ExpectedWithin, CarSteeringMayTurnEitherWayAtZeroThrottle) {
  MixerSpec spec = plain_spec();
  spec.reverse_steering = ReverseSteering::car;
  const auto range = expected_within(spec, 1501, 1700, 2);
  EXPECT_NEAR(range.left.low, 1500 - 202 - 1, 1.01);
  EXPECT_NEAR(range.left.high, 1500 + 202 + 3, 0.01);
  EXPECT_NEAR(range.right.high, 1500 + 202, 0.01) << "just below zero throttle the steering is turned round";
}

}  // namespace
}  // namespace midstick::mixer
