// The fit of one side against simulated answers whose edge, end, gain and jump are known.
#include "daemon/sweep/side_fit.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <random>
#include <vector>

namespace midstick::sweep {
namespace {

struct Shape {
  double level{1500}, edge{20}, end{500}, gain{1.04}, offset{0}, bend{0}, hysteresis{0};
  double y(double u, bool outwards) const {
    if (u <= edge + (outwards ? hysteresis : -hysteresis)) return level;
    const double w = std::min(u, end) - edge;
    return level + offset + gain * w + bend * w * w * w / 250'000;
  }
};

std::vector<SidePoint> swept(const Shape& shape, double noise, unsigned seed) {
  std::mt19937 random(seed);
  std::normal_distribution<double> normal(0, noise);
  std::vector<SidePoint> out;
  for (const bool outwards : {true, false})
    for (double u = 0; u <= 580; u += u < 60 ? 2 : 10)
      out.push_back({u, shape.y(u, outwards) + (noise > 0 ? normal(random) : 0), outwards});
  return out;
}

TEST(SideFit, FindsALineBeyondADeadBandThatClips) {
  const Shape shape;
  const SideFit f = fit_side(swept(shape, 0.15, 1), shape.level, 0);
  ASSERT_TRUE(f.answers && f.edge && f.end && f.gain);
  EXPECT_TRUE(f.straight);
  EXPECT_FALSE(f.jumps);
  // One draw in twenty lies outside U (the next test counts them), but hardly one in ten thousand twice as far.
  EXPECT_NEAR(f.edge->value, 20, 2 * f.edge->u);
  EXPECT_NEAR(f.end->value, 500, 2 * f.end->u);
  EXPECT_NEAR(f.gain->value, 1.04, 2 * f.gain->u);
  EXPECT_LT(f.edge->u, 0.3);
  EXPECT_NEAR(f.residual_sd, 0.15, 0.05);
}

TEST(SideFit, UncertaintyHoldsTheEdgeAsOftenAsItSays) {
  const Shape shape;
  constexpr int kSeeds = 400;
  int edge = 0, gain = 0;
  for (unsigned seed = 1; seed <= kSeeds; ++seed) {
    const SideFit f = fit_side(swept(shape, 0.3, seed), shape.level, 0);
    ASSERT_TRUE(f.edge && f.gain) << "seed " << seed;
    edge += std::abs(f.edge->value - shape.edge) <= f.edge->u;
    gain += std::abs(f.gain->value - shape.gain) <= f.gain->u;
  }
  std::printf("edge within U in %d, gain in %d of %d\n", edge, gain, kSeeds);
  // 95 % of 400 is 380; three standard deviations of that count are 13.
  EXPECT_GE(edge, 367);
  EXPECT_LE(edge, 393) << "an interval that always holds is too wide";
  EXPECT_GE(gain, 367);
}

TEST(SideFit, DeadBandThatJumpsIsPlacedBetweenTwoPositionsAndItsHysteresisIsSeen) {
  Shape shape;
  shape.offset = 12, shape.hysteresis = 3;
  const SideFit f = fit_side(swept(shape, 0.1, 3), shape.level, 0);
  ASSERT_TRUE(f.jumps && f.leaving && f.entering && f.offset);
  EXPECT_NEAR(f.leaving->value, 23, f.leaving->u);
  EXPECT_NEAR(f.entering->value, 17, f.entering->u);
  EXPECT_GT(f.leaving->u, 0.5) << "no finer than the sweep's step allows";
  EXPECT_NEAR(f.offset->value, 12, f.offset->u);
}

TEST(SideFit, BentCurveIsCalledBentAndItsEdgeIsStillFound) {
  Shape shape;
  shape.gain = 0.6, shape.bend = 0.4;
  const SideFit f = fit_side(swept(shape, 0.15, 4), shape.level, 0);
  ASSERT_TRUE(f.edge && f.end);
  EXPECT_FALSE(f.straight);
  EXPECT_GT(f.linearity, 10);
  EXPECT_NEAR(f.edge->value, 20, f.edge->u + 0.3);
  EXPECT_NEAR(f.end->value, 500, f.end->u);
}

TEST(SideFit, NoDeadBandNoClippingAndNoAnswerAreSaidSo) {
  Shape shape;
  shape.edge = 0, shape.end = 1e9;
  const SideFit open = fit_side(swept(shape, 0.15, 5), shape.level, 0);
  ASSERT_TRUE(open.edge);
  EXPECT_NEAR(open.edge->value, 0, 0.5);
  EXPECT_FALSE(open.end) << "it never clips in the sweep";
  shape.gain = 0.01;
  const SideFit still = fit_side(swept(shape, 0.15, 6), shape.level, 0);
  EXPECT_FALSE(still.answers);
  EXPECT_FALSE(still.edge || still.gain);
  EXPECT_FALSE(fit_side({}, 1500, 0).answers);
}

TEST(SideFit, OutputThatRunsBackwardsHasANegativeGain) {
  Shape shape;
  shape.gain = -0.8;
  const SideFit f = fit_side(swept(shape, 0.15, 7), shape.level, 0);
  ASSERT_TRUE(f.gain && f.edge);
  EXPECT_NEAR(f.gain->value, -0.8, f.gain->u);
  EXPECT_NEAR(f.edge->value, 20, f.edge->u);
}

}  // namespace
}  // namespace midstick::sweep
