// The furthest of many readings against outputs whose true ends are known.
#include "daemon/sweep/extremes.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <random>

namespace midstick::sweep {
namespace {

constexpr double kSd = 0.6;  // us, a pin-change line's

/// 200 readings of 12 pulses: a third at the low end, a third at the high end, the rest between.
std::vector<Level> readings_of(double low, double high, unsigned seed) {
  std::mt19937 random(seed);
  std::normal_distribution<double> noise(0, kSd);
  std::vector<Level> out;
  for (int i = 0; i < 200; ++i) {
    const double truth = i % 3 == 0 ? low : i % 3 == 1 ? high : low + (high - low) * (i + 1) / 202;
    std::vector<double> us(12);
    for (double& w : us) w = truth + noise(random);
    out.push_back(level_of(us, 0));
    add_scatter(out.back(), kSd);
  }
  return out;
}

TEST(Extremes, UncertaintyHoldsTheEndsAsOftenAsItSays) {
  constexpr int kSeeds = 400;
  int held = 0, naive = 0;
  for (unsigned seed = 1; seed <= kSeeds; ++seed) {
    const auto levels = readings_of(1000, 2000, seed);
    const auto found = extremes(levels);
    ASSERT_TRUE(found) << "seed " << seed;
    held += std::abs(found->low.value - 1000) <= found->low.u;
    held += std::abs(found->high.value - 2000) <= found->high.u;
    const Level& furthest = std::ranges::max(levels, {}, &Level::us);
    naive += std::abs(furthest.us - 2000) <= furthest.u;
  }
  std::printf("ends within U in %d of %d; the furthest reading's own mean in %d of %d\n", held, 2 * kSeeds, naive, kSeeds);
  // 2 sd hold 95.4 % of 800: 764; three standard deviations of that count are 18.
  EXPECT_GE(held, 746);
  EXPECT_LE(held, 782) << "an interval that always holds is too wide";
  EXPECT_LT(naive, kSeeds * 3 / 4) << "this scene shows no bias, so it proves nothing";
}

TEST(Extremes, WhatDidNotSettleIsNoEnd) {
  auto levels = readings_of(1000, 2000, 1);
  const std::vector<double> moving{2200, 2250, 2300, 2350};
  levels.push_back(level_of(moving, 0));
  EXPECT_LT(extremes(levels)->high.value, 2010);
}

TEST(Extremes, TwoPulsesCannotBothPickAndMeasure) {
  const std::vector<double> two{1500, 1500.2}, three{1500, 1500.2, 1500.1};
  EXPECT_FALSE(extremes(std::vector{level_of(two, 0)}));
  EXPECT_TRUE(extremes(std::vector{level_of(three, 0)}));
  EXPECT_FALSE(extremes({}));
}

}  // namespace
}  // namespace midstick::sweep
