// JCGM 100:2008, H.2: resistance, reactance and impedance measured at the same time, from correlated inputs. The readings of table H.2 are
// from memory; means, standard uncertainties, correlations and results were seen in the documentation of a national metrology
// institute's uncertainty package, and follow from the readings.
#include <gtest/gtest.h>

#include <array>
#include <cmath>

#include "daemon/statistics/budget.hpp"

namespace midstick::statistics {
namespace {

using Readings = std::array<double, 5>;
constexpr Readings kVolts{5.007, 4.994, 5.005, 4.990, 4.999};
constexpr Readings kMilliamperes{19.663, 19.639, 19.640, 19.685, 19.678};
constexpr Readings kRadians{1.0456, 1.0438, 1.0468, 1.0428, 1.0433};

double mean(const Readings& x) {
  double sum = 0;
  for (const double v : x) sum += v;
  return sum / 5;
}

/// Covariance of the two means (5.2.3).
double covariance(const Readings& x, const Readings& y) {
  double sum = 0;
  for (std::size_t i = 0; i < 5; ++i) sum += (x[i] - mean(x)) * (y[i] - mean(y));
  return sum / (5 * 4);
}
double u(const Readings& x) { return std::sqrt(covariance(x, x)); }
double r(const Readings& x, const Readings& y) { return covariance(x, y) / (u(x) * u(y)); }

const double V = mean(kVolts), I = mean(kMilliamperes) / 1e3, phi = mean(kRadians);

struct Sensitivities {
  double volts, amperes, radians;
};
Sensitivities operator+(Sensitivities a, Sensitivities b) { return {a.volts + b.volts, a.amperes + b.amperes, a.radians + b.radians}; }

const Sensitivities kR{std::cos(phi) / I, -V* std::cos(phi) / (I * I), -V* std::sin(phi) / I};
const Sensitivities kX{std::sin(phi) / I, -V* std::sin(phi) / (I * I), V* std::cos(phi) / I};
const Sensitivities kZ{1 / I, -V / (I * I), 0};

Budget budget(const Sensitivities& c) {
  return combine({{"voltage", Evaluation::type_a, Distribution::normal, u(kVolts), c.volts, 4, "V"},
                  {"current", Evaluation::type_a, Distribution::normal, u(kMilliamperes) / 1e3, c.amperes, 4, "A"},
                  {"phase", Evaluation::type_a, Distribution::normal, u(kRadians), c.radians, 4, "rad"}},
                 0.95, {{0, 1, r(kVolts, kMilliamperes)}, {0, 2, r(kVolts, kRadians)}, {1, 2, r(kMilliamperes, kRadians)}});
}

/// Correlation of two results: u^2 of their sum holds twice their covariance.
double correlation(const Sensitivities& a, const Sensitivities& b) {
  const double ua = budget(a).combined, ub = budget(b).combined;
  return (std::pow(budget(a + b).combined, 2) - ua * ua - ub * ub) / (2 * ua * ub);
}

TEST(GumH2, InputsAreThoseOfTheTable) {
  EXPECT_NEAR(V, 4.9990, 5e-5);
  EXPECT_NEAR(I * 1e3, 19.6610, 5e-5);
  EXPECT_NEAR(phi, 1.04446, 5e-6);
  EXPECT_NEAR(u(kVolts), 0.0032, 5e-5);
  EXPECT_NEAR(u(kMilliamperes), 0.0095, 5e-5);
  EXPECT_NEAR(u(kRadians), 0.00075, 5e-6);
  EXPECT_NEAR(r(kVolts, kMilliamperes), -0.36, 0.005);
  EXPECT_NEAR(r(kVolts, kRadians), 0.86, 0.005);
  EXPECT_NEAR(r(kMilliamperes, kRadians), -0.65, 0.005);
}

TEST(GumH2, ResultsAndTheirUncertainties) {
  EXPECT_NEAR(V / I * std::cos(phi), 127.732, 5e-4);
  EXPECT_NEAR(V / I * std::sin(phi), 219.847, 5e-4);
  EXPECT_NEAR(V / I, 254.260, 5e-4);
  EXPECT_NEAR(budget(kR).combined, 0.071, 5e-4);
  EXPECT_NEAR(budget(kX).combined, 0.295, 1e-3);  // printed 0.295; full precision 0.29558
  EXPECT_NEAR(budget(kZ).combined, 0.236, 5e-4);
  EXPECT_NEAR(budget(kR).combined, 0.07107, 5e-6);  // recomputed
  EXPECT_NEAR(budget(kX).combined, 0.29558, 5e-6);  // recomputed
  EXPECT_NEAR(budget(kZ).combined, 0.23634, 5e-6);  // recomputed
}

TEST(GumH2, ResultsAreCorrelatedToo) {
  EXPECT_NEAR(correlation(kR, kX), -0.588, 5e-4);
  EXPECT_NEAR(correlation(kR, kZ), -0.485, 5e-4);
  EXPECT_NEAR(correlation(kX, kZ), 0.993, 1e-3);
}

TEST(GumH2, ForgettingTheCorrelationsIsSeen) {
  EXPECT_GT(combine(budget(kR).rows).combined, 0.15) << "uncorrelated, R would seem more than twice as uncertain as it is";
}

TEST(GumH2, NoEffectiveDegreesOfFreedomForCorrelatedInputs) { EXPECT_FALSE(budget(kR).dof.has_value()); }

}  // namespace
}  // namespace midstick::statistics
