// Uncertainty of spans and means: JCGM 100:2008 4.3.7 (rectangular), 5.1.2 (sum of squares), 6.3.3 (k = 2).
#include "daemon/judge/uncertainty.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace midstick::judge {
namespace {

clock::ClockMap clock_with(double ppm) {
  clock::ClockMap c;
  c.uncertainty_ppm = ppm;
  return c;
}

TEST(SpanUncertainty, ClockRateGrowsWithTheSpan) {
  const double rate = 2 / 1.96 * 100e-6;  // 95 % half width of 100 ppm, restated with k = 2
  EXPECT_NEAR(span_uncertainty_us(clock_with(100), {16 * 1'000'000}, 0, 0), rate * 1e6, 0.02);
  EXPECT_NEAR(span_uncertainty_us(clock_with(100), {-16 * 1'000'000}, 0, 0), rate * 1e6, 0.02);
}

TEST(SpanUncertainty, StampsAreRectangularAndIndependent) {
  const double a = 8 * 0.0625 / std::sqrt(3.0), b = 60 * 0.0625 / std::sqrt(3.0);
  EXPECT_NEAR(span_uncertainty_us(clock_with(0), {24000}, 8, 60), 2 * std::sqrt(a * a + b * b), 1e-9);
}

TEST(SpanUncertainty, StampIsNeverBetterThanHalfATick) {
  EXPECT_DOUBLE_EQ(span_uncertainty_us(clock_with(0), {24000}, 0, 0), 2 * std::hypot(0.03125 / std::sqrt(3.0), 0.03125 / std::sqrt(3.0)));
}

TEST(SpanUncertainty, UnmeasuredClockLeavesAWidthUndecidable) {
  EXPECT_GT(span_uncertainty_us(clock::ClockMap{}, {24000}, 1, 1), 7.5) << "resonator tolerance 0.5 % of 1500 us";
}

TEST(MeanUncertainty, ScatterShrinksWithTheRootCommonPartDoesNot) {
  EXPECT_NEAR(mean_uncertainty(4, 101, 0), 1.9840 * 4 / std::sqrt(101.0), 1e-3);
  EXPECT_NEAR(mean_uncertainty(0, 1'000'000, 0.2), 0.2, 1e-12);
}

TEST(MeanUncertainty, OneReadingKnowsNoScatter) { EXPECT_TRUE(std::isinf(mean_uncertainty(0, 1, 0.1))); }

TEST(RectangularUncertainty, IsTwiceTheHalfWidthOverRootThree) { EXPECT_NEAR(rectangular_uncertainty(2.5), 2.8868, 1e-4); }

}  // namespace
}  // namespace midstick::judge
