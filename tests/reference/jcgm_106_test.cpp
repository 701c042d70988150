// JCGM 106:2012: the role of measurement uncertainty in conformity assessment. "From memory" where the publication was not at hand and only
// the arithmetic was redone.
#include <gtest/gtest.h>

#include "daemon/judge/decision.hpp"

namespace midstick::judge {
namespace {

/// What a report says of a measured y with U = 2 u.
double chance_inside(double y, double u, std::optional<double> low, std::optional<double> high) {
  return *conformance_probability(measure("y", y, low, high, 2 * u, "", 1));
}

// JCGM 106:2012 7.4, kinematic viscosity: y 13.6, u 1.8, limits 12.5 and 16.3 mm2/s, p_c = 0.66. (Inputs seen in a secondary text, result
// from memory, recomputed.) A third of the probability lies outside: no verdict may be given.
TEST(Decision, ViscosityOfJcgm106IsInconclusive) {
  EXPECT_NEAR(chance_inside(13.6, 1.8, 12.5, 16.3), 0.66, 0.005);
  EXPECT_EQ(decide(13.6, 12.5, 16.3, 2 * 1.8), Verdict::inconclusive);
}

// JCGM 106:2012 7.3 (from memory): Zener diode -5.47 V, u 0.05 V, upper limit -5.40 V, p_c = 0.92: not enough for U = 2u.
TEST(Decision, ZenerOfJcgm106IsInconclusive) {
  EXPECT_NEAR(chance_inside(-5.47, 0.05, {}, -5.40), 0.92, 0.005);
  EXPECT_EQ(decide(-5.47, {}, -5.40, 2 * 0.05), Verdict::inconclusive);
}

// JCGM 106:2012 7.3 (from memory): container 509.7 kPa, u 8.6 kPa, lower limit 490 kPa, p_c = 0.99: passes.
TEST(Decision, ContainerOfJcgm106Passes) {
  EXPECT_NEAR(chance_inside(509.7, 8.6, 490, {}), 0.99, 0.005);
  EXPECT_EQ(decide(509.7, 490, {}, 2 * 8.6), Verdict::pass);
}

// JCGM 106:2012 8.3.3 (from memory), guarded rejection: limit 100 km/h, u = 2 % and 99.9 % leave about 107 km/h as the rejection limit.
TEST(Decision, SpeedOfJcgm106IsRejectedOnlyBeyondItsGuardBand) {
  const auto verdict = [](double v) { return decide(v, {}, 100, 3.0902 * 0.02 * v); };
  EXPECT_EQ(verdict(106.5), Verdict::inconclusive);
  EXPECT_EQ(verdict(106.7), Verdict::fail);
}

}  // namespace
}  // namespace midstick::judge
