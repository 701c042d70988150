#include "daemon/statistics/self_starting.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <random>

#include "daemon/statistics/summary.hpp"

namespace midstick::statistics {
namespace {

// By hand: after 1, 2, 3 the mean is 2 and the sd 1; 4 gives t = 2 sqrt(3/4) = 1.7321 with 2 degrees of freedom, upper tail 0.112702, whose
// normal score is 1.2123.
TEST(SelfStarting, ScoreByHand) {
  SelfStarting past;
  for (const double v : {1.0, 2.0, 3.0}) past.learn(v);
  EXPECT_NEAR(past.reference()->mean, 2, 1e-15);
  EXPECT_NEAR(past.reference()->sd, 1, 1e-15);
  EXPECT_NEAR(past.score(4).value(), 1.2123, 1e-4);
  EXPECT_NEAR(past.score(0).value(), -1.2123, 1e-4);
}

TEST(SelfStarting, NothingIsSaidBeforeTwoValues) {
  SelfStarting past;
  EXPECT_FALSE(past.score(1));
  past.learn(1);
  EXPECT_FALSE(past.score(1));
}

TEST(SelfStarting, WhatNeverVariedScoresByTheFloor) {
  SelfStarting bare, floored(0.5);
  for (int i = 0; i < 14; ++i) bare.learn(1500), floored.learn(1500);
  EXPECT_EQ(bare.score(1500), 0);
  EXPECT_EQ(bare.score(1500.001), 30);
  EXPECT_LT(floored.score(1500.001).value(), 0.01);
  EXPECT_GT(floored.score(1502).value(), 2);
}

// The claim that the header makes: scores of normal values are independent and standard normal, from the first one on.
TEST(SelfStarting, ScoresAreStandardNormalAndIndependent) {
  const unsigned seed = 11;
  std::mt19937 random(seed);
  std::normal_distribution<double> normal(1500, 3);
  std::vector<double> scores;
  for (int series = 0; series < 4000; ++series) {
    std::vector<double> x(10);
    for (double& v : x) v = normal(random);
    for (const double s : self_starting_scores(x, 3)) scores.push_back(s);
  }
  const Summary s = summarise(scores);
  const auto n = static_cast<double>(scores.size());
  EXPECT_NEAR(s.mean, 0, 4 / std::sqrt(n)) << "seed " << seed;
  EXPECT_NEAR(s.sd, 1, 4 / std::sqrt(2 * n)) << "seed " << seed;
  EXPECT_NEAR(lag1_autocorrelation(scores), 0, 4 / std::sqrt(n)) << "seed " << seed;
}

}  // namespace
}  // namespace midstick::statistics
