// JCGM 100:2008 (GUM) annex H.3: calibration of a thermometer by a straight line b = y1 + y2 (t - 20 C). Data of table H.6 and results as
// a metrology institute's library prints them; those marked so are from memory. Published with 2 to 4 digits; the longer values are
// recomputed with exact arithmetic and hold the rest.
#include <gtest/gtest.h>

#include <cmath>
#include <vector>

#include "daemon/statistics/line_fit.hpp"
#include "tests/reference/reference.hpp"

namespace midstick::statistics {
namespace {

const std::vector<double> temperature{21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511};
const std::vector<double> correction{-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160};

LineFit about(double t0) {
  std::vector<double> x;
  for (const double t : temperature) x.push_back(t - t0);
  return fit_line(x, correction).value();
}

TEST(GumH3, CoefficientsAndTheirUncertainties) {
  const LineFit f = about(20);
  EXPECT_NEAR(f.intercept, -0.1712, 5e-5);
  EXPECT_NEAR(f.u_intercept, 0.0029, 5e-5);
  EXPECT_NEAR(f.slope, 0.00218, 5e-6);
  EXPECT_NEAR(f.u_slope, 0.00067, 5e-6);
  EXPECT_NEAR(f.covariance / (f.u_intercept * f.u_slope), -0.930, 5e-4);
  EXPECT_NEAR(f.residual_sd, 0.0035, 5e-5);  // from memory
  EXPECT_EQ(f.dof, 9);
  // Recomputed.
  EXPECT_GE(reference::digits(f.intercept, -0.17120379013135), 12);
  EXPECT_GE(reference::digits(f.slope, 0.002182697739887), 12);
  EXPECT_GE(reference::digits(f.u_intercept, 0.002877597835), 9);
  EXPECT_GE(reference::digits(f.covariance, -1.7883407e-06), 7);
}

TEST(GumH3, CorrectionAt30Degrees) {
  const LineFit f = about(20);
  EXPECT_NEAR(f.value(10), -0.1494, 5e-5);
  EXPECT_NEAR(f.u(10), 0.0041, 5e-5);
  EXPECT_GE(reference::digits(f.u(10), 0.004138595753), 9);  // recomputed
}

// H.3.5 (from memory): about the mean temperature the two coefficients are uncorrelated, and the result does not depend on the choice.
TEST(GumH3, AboutTheMeanNothingIsCorrelated) {
  const LineFit centred = about(24.0085), twenty = about(20);
  EXPECT_NEAR(centred.intercept, -0.1625, 5e-5);
  EXPECT_NEAR(centred.u_intercept, 0.0011, 5e-5);
  EXPECT_NEAR(centred.covariance, 0, 1e-10);
  EXPECT_NEAR(centred.value(30 - 24.0085), twenty.value(10), 1e-13);
  EXPECT_NEAR(centred.u(30 - 24.0085), twenty.u(10), 1e-13);
}

// Equation H.15: u^2 = s^2(y1) + t^2 s^2(y2) + 2 t s(y1) s(y2) r.
TEST(GumH3, UncertaintyOnTheLineIsEquationH15) {
  const LineFit f = about(20);
  for (const double t : {-5.0, 0.0, 4.0, 10.0, 30.0})
    EXPECT_NEAR(f.u(t), std::sqrt(std::pow(f.u_intercept, 2) + t * t * f.u_slope * f.u_slope + 2 * t * f.covariance), 1e-13) << t;
}

}  // namespace
}  // namespace midstick::statistics
