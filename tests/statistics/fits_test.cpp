#include <gtest/gtest.h>

#include <limits>
#include <vector>

#include "daemon/statistics/least_squares.hpp"
#include "daemon/statistics/line_fit.hpp"

namespace midstick::statistics {
namespace {

const std::vector<double> x{0, 1, 2, 3, 4}, y{1.0, 3.1, 4.9, 7.2, 8.8};

// A weight of 2 is worth two readings for the line; only the degrees of freedom tell them apart.
TEST(FitLine, WeightTwoMovesTheLineLikeTwoReadings) {
  const auto weighted = fit_line(x, y, std::vector<double>{1, 2, 1, 1, 1});
  const auto repeated = fit_line(std::vector<double>{0, 1, 1, 2, 3, 4}, std::vector<double>{1.0, 3.1, 3.1, 4.9, 7.2, 8.8});
  ASSERT_TRUE(weighted && repeated);
  EXPECT_NEAR(weighted->slope, repeated->slope, 1e-14);
  EXPECT_NEAR(weighted->intercept, repeated->intercept, 1e-14);
  EXPECT_NEAR(weighted->u_slope * weighted->u_slope * 3, repeated->u_slope * repeated->u_slope * 4, 1e-15);
}

TEST(FitLine, OnlyRatiosOfWeightsMatter) {
  const auto one = fit_line(x, y, std::vector<double>{1, 2, 3, 2, 1}), ten = fit_line(x, y, std::vector<double>{10, 20, 30, 20, 10});
  EXPECT_NEAR(one->slope, ten->slope, 1e-14);
  EXPECT_NEAR(one->u_slope, ten->u_slope, 1e-14);
}

TEST(FitLine, AgreesWithTheGeneralFit) {
  const std::vector<double> w{1, 2, 3, 2, 1};
  const auto line = fit_line(x, y, w);
  const auto general = fit_polynomial(x, 1, y, w);
  ASSERT_TRUE(line && general);
  EXPECT_NEAR(line->intercept, general->coefficients[0], 1e-14);
  EXPECT_NEAR(line->slope, general->coefficients[1], 1e-14);
  EXPECT_NEAR(line->u_slope, general->u(1), 1e-14);
  EXPECT_NEAR(line->covariance, general->covariance[1], 1e-14);
  EXPECT_NEAR(line->residual_sd, general->residual_sd, 1e-14);
}

// Board times are large and their differences small: a line through points a second apart after a month keeps its digits.
TEST(FitLine, KeepsItsDigitsFarFromZero) {
  std::vector<double> far;
  for (const double v : x) far.push_back(4e13 + v);
  const auto near = fit_line(x, y), moved = fit_line(far, y);
  ASSERT_TRUE(near && moved);
  EXPECT_NEAR(moved->slope, near->slope, 1e-13);
  EXPECT_NEAR(moved->u(4e13 + 2), near->u(2), 1e-13);
}

TEST(FitLine, RefusesWhatHasNoLine) {
  const double nan = std::numeric_limits<double>::quiet_NaN();
  EXPECT_FALSE(fit_line(std::vector<double>{1, 2}, std::vector<double>{1, 2}));
  EXPECT_FALSE(fit_line(std::vector<double>{1, 1, 1}, std::vector<double>{1, 2, 3}));
  EXPECT_FALSE(fit_line(x, std::vector<double>{1, 2, 3}));
  EXPECT_FALSE(fit_line(x, std::vector<double>{1, 2, nan, 3, 4}));
  EXPECT_FALSE(fit_line(x, y, std::vector<double>{1, 1, 0, 1, 1}));
  EXPECT_FALSE(fit_line(x, y, std::vector<double>{1, 1}));
}

TEST(FitLinear, RefusesColumnsThatCannotBeToldApart) {
  const std::vector<double> design{1, 2, 1, 2, 1, 2, 1, 2};
  EXPECT_FALSE(fit_linear(design, 2, std::vector<double>{1, 2, 3, 4}));
  EXPECT_FALSE(fit_linear(std::vector<double>{1, 0, 2, 0, 3, 0}, 2, std::vector<double>{1, 2, 3}));
  EXPECT_FALSE(fit_linear(design, 3, std::vector<double>{1, 2, 3, 4}));
  EXPECT_FALSE(fit_linear({}, 0, {}));
}

}  // namespace
}  // namespace midstick::statistics
