#include "daemon/clock/reference.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <random>
#include <vector>

namespace midstick::clock {
namespace {

std::vector<BoardTime> seconds(int count, double ppm, double jitter_ticks = 0, unsigned seed = 1) {
  std::mt19937 random(seed);
  std::normal_distribution<> jitter(0, 1);
  std::vector<BoardTime> rises;
  for (int i = 0; i < count; ++i) rises.push_back({std::llround(5'000'000 + i * 16e6 * (1 + ppm / 1e6) + jitter(random) * jitter_ticks)});
  return rises;
}

TEST(Reference, BoardsRateIsFoundWithItsSign) {
  const auto found = against_reference(seconds(31, 2345), 1);
  ASSERT_TRUE(found);
  EXPECT_NEAR(found->board_ppm, 2345, found->uncertainty_ppm);
  EXPECT_LT(found->uncertainty_ppm, 0.02);
  EXPECT_EQ(found->pulses, 31);
  EXPECT_EQ(found->seconds, 30);
  EXPECT_EQ(found->missing, 0);
  EXPECT_EQ(found->strays, 0);
}

TEST(Reference, MissingPulsesAndStraysAreCountedAndDoNoHarm) {
  auto rises = seconds(31, -4000);
  rises.erase(rises.begin() + 12, rises.begin() + 15);
  rises.insert(rises.begin(), BoardTime{1'000'000});
  rises.insert(rises.begin() + 6, rises[5] + BoardSpan{3'000'000});
  const auto found = against_reference(rises, 1);
  ASSERT_TRUE(found);
  EXPECT_NEAR(found->board_ppm, -4000, found->uncertainty_ppm);
  EXPECT_EQ(found->missing, 3);
  EXPECT_EQ(found->strays, 2);
}

TEST(Reference, IntervalHoldsTheTruthOfAReferenceThatJitters) {
  int held = 0;
  for (unsigned seed = 1; seed <= 1000; ++seed) {
    const auto found = against_reference(seconds(21, 100, 16, seed), 1);
    held += found && std::abs(found->board_ppm - 100) <= found->uncertainty_ppm;
  }
  EXPECT_GE(held, 990) << "seeds 1 to 1000";
}

TEST(Reference, WhatIsNoPulseASecondIsNotTakenForOne) {
  EXPECT_FALSE(against_reference({}, 1));
  EXPECT_FALSE(against_reference(seconds(4, 0), 1));
  std::vector<BoardTime> frames;
  for (int i = 0; i < 40; ++i) frames.push_back({i * 11'000'000});  // every 0.6875 s: each 16th second only
  EXPECT_FALSE(against_reference(frames, 1));
}

}  // namespace
}  // namespace midstick::clock
