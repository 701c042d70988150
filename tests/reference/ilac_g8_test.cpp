// ILAC-G8:09/2019, guidelines on decision rules.
#include <gtest/gtest.h>

#include <boost/math/distributions/normal.hpp>

#include "daemon/judge/decision.hpp"

namespace midstick::judge {
namespace {

// JCGM 106:2012 8.3.2 and ILAC-G8:09/2019 table 1: with w = U = 2u the risk of a false accept at the acceptance limit is below 2.5 %.
TEST(Decision, RiskAtTheAcceptanceLimitIsBelowTwoAndAHalfPercent) {
  const double u = 0.7, acceptance = 10 - 2 * u;
  EXPECT_EQ(decide(acceptance - 1e-9, {}, 10, 2 * u), Verdict::pass);
  EXPECT_EQ(decide(acceptance + 1e-6, {}, 10, 2 * u), Verdict::inconclusive);
  EXPECT_NEAR(cdf(complement(boost::math::normal(acceptance, u), 10)), 0.02275, 5e-6);
}

}  // namespace
}  // namespace midstick::judge
