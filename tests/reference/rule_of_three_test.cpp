// Hanley and Lippman-Hand, "If nothing goes wrong, is everything all right?", JAMA 249 (1983) 1743: the rule of three. Volume and page from
// memory.
#include <gtest/gtest.h>

#include "daemon/statistics/rates.hpp"

namespace midstick::statistics {
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
    EXPECT_NEAR(none_seen_bound(r.n), r.bound, r.within) << r.n;
  EXPECT_NEAR(none_seen_bound(50), 0.06, 0.005);
  EXPECT_NEAR(none_seen_bound(1000), 0.003, 0.0005);
}

TEST(NoneSeen, NothingLookedAtBoundsNothing) {
  EXPECT_EQ(none_seen_bound(0), 1.0);
  EXPECT_EQ(none_seen_bound(-3), 1.0);
}

// Two-sided bound of 0/n is about 3.69/n and must not be mixed up with the one-sided rule of three. Recomputed.
TEST(RateInterval, NoneSeenTwoSidedIsWiderThanOneSided) {
  EXPECT_NEAR(rate_interval(0, 30).high, .1157, 5e-5);
  EXPECT_NEAR(rate_interval(0, 100).high, .0362, 5e-5);
  EXPECT_NEAR(rate_interval(0, 300).high, .01222, 5e-6);
  EXPECT_GT(rate_interval(0, 300).high, none_seen_bound(300));
}

}  // namespace
}  // namespace midstick::statistics
