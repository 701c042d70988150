#include "daemon/statistics/control_chart.hpp"

#include <gtest/gtest.h>

#include <vector>

namespace midstick::statistics {
namespace {

const CusumPlan plan{10, 0.5, 2};

TEST(Cusum, SeesAShiftDownwardsWithItsBeginning) {
  const std::vector<double> x{10, 10.4, 9.6, 10, 8, 8, 8};
  const auto alarm = first_alarm(cusum(x, plan), plan);
  ASSERT_TRUE(alarm);
  EXPECT_FALSE(alarm->upward);
  EXPECT_EQ(alarm->began, 4u);
  EXPECT_EQ(alarm->at, 5u);
  EXPECT_NEAR(alarm->shift, -2, 1e-12);
}

TEST(Cusum, AShiftFromTheFirstValueBeganThere) {
  const std::vector<double> x{12, 12, 12};
  EXPECT_EQ(first_alarm(cusum(x, plan), plan)->began, 0u);
}

TEST(Cusum, WhatStaysInsideTheAllowanceNeverAlarms) {
  const std::vector<double> x(1000, 10.5);
  EXPECT_FALSE(first_alarm(cusum(x, plan), plan));
}

TEST(Cusum, AlarmsOnlyBeyondTheDecisionValue) {
  EXPECT_FALSE(first_alarm(cusum(std::vector<double>{12.5}, plan), plan));
  EXPECT_TRUE(first_alarm(cusum(std::vector<double>{12.5001}, plan), plan));
}

TEST(Ewma, OfWeightOneIsTheValueItself) {
  const EwmaPlan each{0, 1, 1, 3};
  const auto points = ewma(std::vector<double>{1, -2, 3.5}, each);
  EXPECT_EQ(points[1].mean, -2);
  EXPECT_NEAR(points[1].high, 3, 1e-12);
  EXPECT_FALSE(points[2].inside());
}

}  // namespace
}  // namespace midstick::statistics
