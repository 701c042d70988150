// The judge's arithmetic against published numbers. Sources beside each; "from memory" where the publication itself was not at hand
// and only the arithmetic was redone.
#include <gtest/gtest.h>

#include <boost/math/distributions/normal.hpp>
#include <cmath>

#include "daemon/judge/decision.hpp"
#include "daemon/judge/uncertainty.hpp"
#include "daemon/statistics/rates.hpp"

namespace midstick::judge {
namespace {

// Rule of three, exact one-sided form 1 - 0.05^(1/n). Hanley and Lippman-Hand, "If nothing goes wrong, is everything all right?", JAMA 249
// (1983) 1743: 50 -> 6 %, 1000 -> 0.3 %. The exact values are recomputed.
TEST(NoneSeen, ExactOneSidedBound) {
  struct Row {
    std::int64_t n;
    double bound, within;
  };
  for (const Row& r : {Row{10, .2589, 5e-5}, Row{20, .1391, 5e-5}, Row{30, .0950, 5e-5}, Row{50, .0582, 5e-5}, Row{59, .0495, 5e-5},
                       Row{100, .02951, 5e-6}, Row{299, .00997, 5e-6}, Row{300, .00994, 6e-6}, Row{1000, .002991, 5e-7}})
    EXPECT_NEAR(statistics::none_seen_bound(r.n), r.bound, r.within) << r.n;
  EXPECT_NEAR(statistics::none_seen_bound(50), 0.06, 0.005);
  EXPECT_NEAR(statistics::none_seen_bound(1000), 0.003, 0.0005);
}

TEST(NoneSeen, NothingLookedAtBoundsNothing) {
  EXPECT_EQ(statistics::none_seen_bound(0), 1.0);
  EXPECT_EQ(statistics::none_seen_bound(-3), 1.0);
}

// Newcombe, Statistics in Medicine 17 (1998) 857, Table I, exact method, 95 % two-sided.
TEST(RateInterval, NewcombeTableI) {
  struct Row {
    std::int64_t x, n;
    double low, high;
  };
  for (const Row& r : {Row{81, 263, .2527, .3676}, Row{15, 148, .0578, .1617}, Row{0, 20, .0000, .1684}, Row{1, 29, .0009, .1776}}) {
    const auto i = statistics::rate_interval(r.x, r.n);
    EXPECT_NEAR(i.low, r.low, 5e-5) << r.x << '/' << r.n;
    EXPECT_NEAR(i.high, r.high, 5e-5) << r.x << '/' << r.n;
  }
}

// NIST/SEMATECH e-Handbook 7.2.4.2: 4 defective of 20, 90 % exact. The page used a spreadsheet's goal seek, so 2e-6 are tolerated.
TEST(RateInterval, HandbookFourOfTwentyAtNinetyPercent) {
  const auto i = statistics::rate_interval(4, 20, 0.90);
  EXPECT_NEAR(i.low, 0.071354, 2e-6);
  EXPECT_NEAR(i.high, 0.401029, 2e-6);
}

// Two-sided bound of 0/n is about 3.69/n and must not be mixed up with the one-sided rule of three. Recomputed.
TEST(RateInterval, NoneSeenTwoSidedIsWiderThanOneSided) {
  EXPECT_NEAR(statistics::rate_interval(0, 30).high, .1157, 5e-5);
  EXPECT_NEAR(statistics::rate_interval(0, 100).high, .0362, 5e-5);
  EXPECT_NEAR(statistics::rate_interval(0, 300).high, .01222, 5e-6);
  EXPECT_GT(statistics::rate_interval(0, 300).high, statistics::none_seen_bound(300));
}

TEST(RateInterval, AllSeenReachesOne) {
  EXPECT_EQ(statistics::rate_interval(20, 20).high, 1.0);
  EXPECT_NEAR(statistics::rate_interval(20, 20).low, 1 - .1684, 5e-5);  // mirror of 0/20
}

// JCGM 100:2008 table G.2, p = 95 % (values recomputed; the table prints two decimals).
TEST(StudentT, GumTableG2) {
  struct Row {
    std::int64_t dof;
    double t;
  };
  for (const Row& r :
       {Row{1, 12.7062}, Row{2, 4.3027}, Row{5, 2.5706}, Row{10, 2.2281}, Row{16, 2.1199}, Row{50, 2.0086}, Row{100, 1.9840}})
    EXPECT_NEAR(statistics::student_t95(r.dof), r.t, 5e-5) << r.dof;
}

double conformance_probability(double y, double u, double low, double high) {
  const boost::math::normal n;
  return cdf(n, (high - y) / u) - cdf(n, (low - y) / u);
}

// JCGM 106:2012 7.4, kinematic viscosity: y 13.6, u 1.8, limits 12.5 and 16.3 mm2/s, p_c = 0.66. (Inputs seen in a secondary text, result
// from memory, recomputed.) A third of the probability lies outside: no verdict may be given.
TEST(Decision, ViscosityOfJcgm106IsInconclusive) {
  EXPECT_NEAR(conformance_probability(13.6, 1.8, 12.5, 16.3), 0.66, 0.005);
  EXPECT_EQ(decide(13.6, 12.5, 16.3, 2 * 1.8), Verdict::inconclusive);
}

// JCGM 106:2012 7.3 (from memory): Zener diode -5.47 V, u 0.05 V, upper limit -5.40 V, p_c = 0.92: not enough for U = 2u.
TEST(Decision, ZenerOfJcgm106IsInconclusive) { EXPECT_EQ(decide(-5.47, {}, -5.40, 2 * 0.05), Verdict::inconclusive); }

// JCGM 106:2012 7.3 (from memory): container 509.7 kPa, u 8.6 kPa, lower limit 490 kPa, p_c = 0.99: passes.
TEST(Decision, ContainerOfJcgm106Passes) { EXPECT_EQ(decide(509.7, 490, {}, 2 * 8.6), Verdict::pass); }

// JCGM 106:2012 8.3.3 (from memory), guarded rejection: limit 100 km/h, u = 2 % and 99.9 % leave about 107 km/h as the rejection limit.
TEST(Decision, SpeedOfJcgm106IsRejectedOnlyBeyondItsGuardBand) {
  const auto verdict = [](double v) { return decide(v, {}, 100, 3.0902 * 0.02 * v); };
  EXPECT_EQ(verdict(106.5), Verdict::inconclusive);
  EXPECT_EQ(verdict(106.7), Verdict::fail);
}

// JCGM 106:2012 8.3.2 and ILAC-G8:09/2019 table 1: with w = U = 2u the risk of a false accept at the acceptance limit is below 2.5 %.
TEST(Decision, RiskAtTheAcceptanceLimitIsBelowTwoAndAHalfPercent) {
  const double u = 0.7, acceptance = 10 - 2 * u;
  EXPECT_EQ(decide(acceptance - 1e-9, {}, 10, 2 * u), Verdict::pass);
  EXPECT_EQ(decide(acceptance + 1e-6, {}, 10, 2 * u), Verdict::inconclusive);
  EXPECT_NEAR(1 - conformance_probability(acceptance, u, -1e9, 10), 0.02275, 5e-6);
}

// JCGM 100:2008 F.2.2.1 (from memory): a counter's resolution q gives u = q / sqrt(12); q = 62.5 ns -> 18.04 ns. With no other bound a
// stamp is good to half a tick.
TEST(Uncertainty, HalfTickStampIsTheCountersResolution) {
  clock::ClockMap exact;
  exact.uncertainty_ppm = 0;
  const double u = span_uncertainty_us(exact, {24000}, 0, 0) / 2;  // k = 2
  EXPECT_NEAR(u, std::sqrt(2.0) * 0.01804, 1e-5);
}

}  // namespace
}  // namespace midstick::judge
