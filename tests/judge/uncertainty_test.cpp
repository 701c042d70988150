// Uncertainty of spans and means: JCGM 101:2008 5.3.2 (distributions propagated), JCGM 100:2008 4.3.7 (rectangular), F.2.4.5 (what is not
// corrected stays in U).
#include "daemon/judge/uncertainty.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace midstick::judge {
namespace {

constexpr double kTick = 0.0625;

capture::Capture with_clock(double ppm) {
  capture::Capture c;
  c.clock.uncertainty_ppm = ppm;
  return c;
}

capture::Capture calibrated(std::vector<capture::DelayCount> lone) {
  capture::Capture c = with_clock(0);
  c.calibration.emplace();
  c.calibration->lone_half = 8;
  c.calibration->pin_change = std::move(lone);
  return c;
}

TEST(SpanUncertainty, ClockRateGrowsWithTheSpan) {
  // 1 s at 100 ppm, a half width of 99 %: 95 % of that normal is 76.1 us, far more than the ticks; the rate's part is rounded up by 1.6 %
  // at most.
  for (const std::int64_t span : {16'000'000, -16'000'000}) {
    const double u = span_uncertainty_us(with_clock(100), {span}, 1, 1);
    EXPECT_GE(u, 76.08 * 0.9999);
    EXPECT_LE(u, 77.4);
  }
}

TEST(SpanUncertainty, TwoCapturedEdgesMakeATriangle) {
  EXPECT_NEAR(span_uncertainty_us(with_clock(0), {24000}, 1, 1), kTick * (1 - std::sqrt(0.05)), 1e-6);
}

TEST(SpanUncertainty, PinChangeBoundsAreRectangular) {
  // Widths 121 and 17: the tails of the trapezoid beyond x hold (69 - x)^2 / (121 * 17) of both sides together.
  EXPECT_NEAR(span_uncertainty_us(with_clock(0), {24000}, 8, 60), kTick * (69 - std::sqrt(0.05 * 121 * 17)), 1e-3);
}

TEST(SpanUncertainty, AgainstACommandedEdgeTheSynchroniserCountsUntilItIsCalibrated) {
  EXPECT_NEAR(span_uncertainty_us(with_clock(0), {24000}, kCommanded, 1), kTick * 0.95 * 5, 1e-5);
  EXPECT_NEAR(span_uncertainty_us(calibrated({}), {24000}, kCommanded, 1), kTick * 0.95, 1e-5);
  EXPECT_NEAR(span_uncertainty_us(calibrated({}), {24000}, 1, 1), span_uncertainty_us(with_clock(0), {24000}, 1, 1), 1e-9)
      << "between two responses it falls out";
}

TEST(SpanUncertainty, MeasuredDelaysReplaceTheBoundOfALoneStampOnly) {
  const auto c = calibrated({{-1, 10}, {0, 80}, {1, 10}});
  const double bound = span_uncertainty_us(with_clock(0), {24000}, 8, 8), lone = span_uncertainty_us(c, {24000}, 8, 8);
  EXPECT_LT(lone, bound / 4);
  EXPECT_GT(lone, kTick);
  EXPECT_NEAR(span_uncertainty_us(c, {24000}, 64, 64), span_uncertainty_us(with_clock(0), {24000}, 64, 64), 1e-9);
}

TEST(SpanUncertainty, AnotherCalibrationGivesAnotherAnswer) {
  const double narrow = span_uncertainty_us(calibrated({{0, 1}}), {24000}, 8, 8);
  EXPECT_GT(span_uncertainty_us(calibrated({{-6, 1}, {6, 1}}), {24000}, 8, 8), 5 * narrow);
  EXPECT_EQ(span_uncertainty_us(calibrated({{0, 1}}), {24000}, 8, 8), narrow);
}

TEST(SpanUncertainty, UnmeasuredClockLeavesAWidthUndecidable) {
  EXPECT_GT(span_uncertainty_us(capture::Capture{}, {24000}, 1, 1), 7.5) << "resonator tolerance 0.5 % of 1500 us";
}

TEST(MeanUncertainty, ScatterShrinksWithTheRootCommonPartDoesNot) {
  EXPECT_NEAR(mean_uncertainty(4, 101, 0), 1.9840 * 4 / std::sqrt(101.0), 1e-3);
  EXPECT_NEAR(mean_uncertainty(0, 1'000'000, 0.2), 0.2, 1e-12);
}

TEST(MeanUncertainty, OneReadingKnowsNoScatter) { EXPECT_TRUE(std::isinf(mean_uncertainty(0, 1, 0.1))); }

TEST(RectangularUncertainty, HoldsNineteenTwentiethsOfTheRectangle) { EXPECT_DOUBLE_EQ(rectangular_uncertainty(2.5), 2.375); }

}  // namespace
}  // namespace midstick::judge
