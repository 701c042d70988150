// Normalise, dead band, square, expo, rate. Formulas: common practice, no source; numbers worked by hand.
#include <gtest/gtest.h>

#include <cmath>

#include "tests/mixer/worked_spec.hpp"

namespace midstick::mixer {
namespace {

TEST(Normalise, EachSideHasItsOwnTravel) {
  InputSpec in;
  in.low_us = 1100, in.centre_us = 1520, in.high_us = 1900;
  EXPECT_DOUBLE_EQ(stick(in, 1520), 0);
  EXPECT_DOUBLE_EQ(stick(in, 1900), 1);
  EXPECT_DOUBLE_EQ(stick(in, 1100), -1);
  EXPECT_DOUBLE_EQ(stick(in, 1520 + 190), 0.5);
  EXPECT_DOUBLE_EQ(stick(in, 1520 - 210), -0.5);
}

TEST(Normalise, OverTravelStopsAtFullStick) {
  EXPECT_DOUBLE_EQ(stick(InputSpec{}, 2140), 1);
  EXPECT_DOUBLE_EQ(stick(InputSpec{}, 860), -1);
}

TEST(Normalise, ReversedInputChangesSign) {
  InputSpec in;
  in.reversed = true;
  EXPECT_DOUBLE_EQ(stick(in, 1750), -0.5);
  EXPECT_DOUBLE_EQ(stick(in, 2000), -1);
}

TEST(Normalise, WidthForStickIsItsInverse) {
  InputSpec in;
  in.low_us = 1100, in.centre_us = 1520, in.high_us = 1900;
  for (const bool reversed : {false, true}) {
    in.reversed = reversed;
    for (double x = -1; x <= 1; x += 0.125) EXPECT_NEAR(stick(in, width_for_stick(in, x)), x, 1e-12) << x;
  }
}

TEST(Normalise, WidthForStickStopsAtTheEndpoints) {
  EXPECT_DOUBLE_EQ(width_for_stick(InputSpec{}, 1.7), 2000);
  EXPECT_DOUBLE_EQ(width_for_stick(InputSpec{}, -1.7), 1000);
}

TEST(DeadBand, JumpKeepsTheStickOutsideTheBand) {
  const auto in = input_with(DeadBandKind::jump, 25);
  EXPECT_DOUBLE_EQ(stick(in, 1524.9), 0);
  EXPECT_DOUBLE_EQ(stick(in, 1475.1), 0);
  EXPECT_DOUBLE_EQ(stick(in, 1525), 0.05);
  EXPECT_DOUBLE_EQ(stick(in, 1475), -0.05);
}

TEST(DeadBand, ContinuousStartsFromZeroAtTheEdgeAndKeepsFullStick) {
  const auto in = input_with(DeadBandKind::continuous, 25);
  EXPECT_DOUBLE_EQ(stick(in, 1510), 0);
  EXPECT_NEAR(stick(in, 1525), 0, 1e-12);
  EXPECT_NEAR(stick(in, 1750), (0.5 - 0.05) / 0.95, 1e-12);
  EXPECT_DOUBLE_EQ(stick(in, 2000), 1);
  EXPECT_DOUBLE_EQ(stick(in, 1000), -1);
}

TEST(DeadBand, ContinuousUsesTheTravelOfItsOwnSide) {
  auto in = input_with(DeadBandKind::continuous, 40);
  in.low_us = 1100, in.high_us = 1900 + 400;  // 400 us down, 800 us up
  EXPECT_NEAR(stick(in, 1500 + 440), (0.55 - 0.05) / 0.95, 1e-12);
  EXPECT_NEAR(stick(in, 1500 - 220), -(0.55 - 0.1) / 0.9, 1e-12);
}

TEST(DeadBand, WiderThanTheTravelLeavesNothing) {
  const auto in = input_with(DeadBandKind::continuous, 600);
  EXPECT_DOUBLE_EQ(stick(in, 2000), 0);
}

TEST(DeadBand, NoneFollowsTheStickAtOnce) {
  const auto in = input_with(DeadBandKind::none, 25);
  EXPECT_DOUBLE_EQ(stick(in, 1505), 0.01);
}

TEST(DeadBand, CurveGoesThroughTheCurveItself) {
  auto in = input_with(DeadBandKind::curve, 50);
  in.square = true;
  EXPECT_DOUBLE_EQ(stick(in, 1550), 0);
  EXPECT_NEAR(stick(in, 1750), (0.25 - 0.01) / (1 - 0.01), 1e-12);
  EXPECT_NEAR(stick(in, 1250), -(0.25 - 0.01) / (1 - 0.01), 1e-12);
  EXPECT_DOUBLE_EQ(stick(in, 2000), 1);
}

TEST(DeadBand, SoftIsFlatAtTheCentreAndFullAtTheEnd) {
  auto in = input_with(DeadBandKind::soft, 0);
  in.dead_band_softness = 0.1;
  EXPECT_DOUBLE_EQ(stick(in, 1500), 0);
  EXPECT_NEAR(stick(in, 1525), 0.05 * std::pow(0.05 * 1.1 / 0.15, 8), 1e-12);
  EXPECT_LT(stick(in, 1525) * 500, 0.02) << "us of output, 25 us off centre";
  EXPECT_DOUBLE_EQ(stick(in, 2000), 1);
  EXPECT_DOUBLE_EQ(stick(in, 1000), -1);
}

TEST(DeadBand, HysteresisMayBeEitherWayBetweenItsTwoEdges) {
  auto in = input_with(DeadBandKind::hysteresis, 25);
  in.dead_band_hysteresis_us = 5;
  const auto at = [&](double us) { return stick_within(in, {us, us}); };
  EXPECT_DOUBLE_EQ(at(1519).high, 0);
  EXPECT_DOUBLE_EQ(at(1521).low, 0);
  EXPECT_DOUBLE_EQ(at(1521).high, 0.042);
  EXPECT_DOUBLE_EQ(at(1529).low, 0);
  EXPECT_DOUBLE_EQ(at(1531).low, 0.062);
  EXPECT_DOUBLE_EQ(at(1479).low, -0.042);
}

TEST(Square, KeepsTheSignAndComesBeforeExpo) {
  InputSpec in;
  in.square = true;
  EXPECT_DOUBLE_EQ(stick(in, 1250), -0.25);
  in.expo = 1;
  EXPECT_DOUBLE_EQ(stick(in, 1750), 0.25 * 0.25 * 0.25);
}

TEST(Expo, MixesCubeAndLine) {
  InputSpec in;
  in.expo = 0.3;
  EXPECT_NEAR(stick(in, 1750), 0.3 * 0.125 + 0.7 * 0.5, 1e-12);
  EXPECT_DOUBLE_EQ(stick(in, 2000), 1);
}

TEST(Rate, ScalesAfterExpo) {
  InputSpec in;
  in.expo = 0.3, in.rate = 0.5;
  EXPECT_NEAR(stick(in, 1750), 0.5 * (0.3 * 0.125 + 0.7 * 0.5), 1e-12);
}

TEST(Order, DeadBandComesBeforeExpo) {
  auto in = input_with(DeadBandKind::continuous, 25);
  in.expo = 1;
  const double banded = (0.5 - 0.05) / 0.95;
  EXPECT_NEAR(stick(in, 1750), banded * banded * banded, 1e-12);
}

}  // namespace
}  // namespace midstick::mixer
