// NIST/SEMATECH e-Handbook of Statistical Methods (doi:10.18434/M32189), 6.3.2.4: EWMA control charts. lambda 0.3, EWMA0 = 50, s = 2.0539,
// k = 3: UCL 52.5884, LCL 47.4115, all in control.
#include <gtest/gtest.h>

#include <cmath>
#include <vector>

#include "daemon/statistics/control_chart.hpp"

namespace midstick::statistics {
namespace {

const std::vector<double> x{52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5,
                            49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1};
const std::vector<double> printed{50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33,
                                  50.11, 49.36, 49.52, 50.05, 49.38, 49.92, 50.73, 51.23, 51.94, 51.99};
const EwmaPlan plan{50, 2.0539, 0.3, 3};

TEST(HandbookEwma, WeightedMeans) {
  const auto points = ewma(x, plan);
  ASSERT_EQ(points.size(), printed.size());
  for (std::size_t i = 0; i < printed.size(); ++i) {
    EXPECT_NEAR(points[i].mean, printed[i], 0.00501) << i + 1;
    EXPECT_TRUE(points[i].low < points[i].mean && points[i].mean < points[i].high) << i + 1;
  }
}

TEST(HandbookEwma, LimitsAfterManyValues) {
  const auto late = ewma(std::vector<double>(200, 50.0), plan).back();
  EXPECT_NEAR(late.high, 52.5884, 5e-5);
  EXPECT_NEAR(late.low, 47.4115, 1e-4);  // the page cuts 47.41157 instead of rounding it
}

// Exact limits of the first values: factor sqrt(lambda / (2 - lambda) (1 - (1 - lambda)^(2 t))), which is lambda at t = 1. Recomputed.
TEST(HandbookEwma, EarlyLimitsAreExact) {
  const auto points = ewma(x, plan);
  EXPECT_NEAR(points[0].high, 50 + 3 * 0.3 * 2.0539, 1e-12);
  EXPECT_NEAR(points[1].high, 50 + 3 * 2.0539 * std::sqrt(0.09 + 0.09 * 0.49), 1e-12);
}

TEST(HandbookEwma, AValueOutsideIsSeen) {
  std::vector<double> shifted = x;
  for (std::size_t i = 10; i < shifted.size(); ++i) shifted[i] += 4;
  EXPECT_FALSE(ewma(shifted, plan).back().inside());
}

}  // namespace
}  // namespace midstick::statistics
