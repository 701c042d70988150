#include "daemon/statistics/run_length.hpp"

#include <gtest/gtest.h>

#include <vector>

namespace midstick::statistics {
namespace {

TEST(CusumAlarmBy, AddsUpToTheAverageRunLength) {
  // Sum over t of the chance that nothing has alarmed yet.
  const std::vector<double> shift(400, 1.0);
  double length = 1;
  for (const double by : cusum_alarm_by(shift, 0.5, 4)) length += 1 - by;
  EXPECT_NEAR(length, cusum_run_length(1, 0.5, 4), 1e-6);
}

TEST(CusumThreshold, KeepsItsRisk) {
  const double h = cusum_threshold(0.5, 300, 0.01);
  EXPECT_NEAR(2 * cusum_alarm_by(std::vector<double>(300, 0.0), 0.5, h).back(), 0.01, 1e-5);
  EXPECT_GT(h, cusum_threshold(0.5, 300, 0.1));
  EXPECT_GT(h, cusum_threshold(0.5, 30, 0.01));
}

// Two ways to the same: an EWMA of weight 1 is a Shewhart chart. The nodes are good to about ten digits.
TEST(EwmaRunLength, OfWeightOneIsShewharts) {
  for (const double shift : {0.0, 1.0, 2.0}) EXPECT_NEAR(ewma_run_length(shift, 1, 3) / shewhart_run_length(shift, 3), 1, 1e-8) << shift;
}

}  // namespace
}  // namespace midstick::statistics
