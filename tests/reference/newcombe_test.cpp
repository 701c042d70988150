// Newcombe, Statistics in Medicine 17 (1998) 857: intervals of a single proportion.
#include <gtest/gtest.h>

#include <cstdint>

#include "daemon/statistics/rates.hpp"

namespace midstick::statistics {
namespace {

// Newcombe, Statistics in Medicine 17 (1998) 857, Table I, exact method, 95 % two-sided.
TEST(RateInterval, NewcombeTableI) {
  struct Row {
    std::int64_t x, n;
    double low, high;
  };
  for (const Row& r : {Row{81, 263, .2527, .3676}, Row{15, 148, .0578, .1617}, Row{0, 20, .0000, .1684}, Row{1, 29, .0009, .1776}}) {
    const auto i = rate_interval(r.x, r.n);
    EXPECT_NEAR(i.low, r.low, 5e-5) << r.x << '/' << r.n;
    EXPECT_NEAR(i.high, r.high, 5e-5) << r.x << '/' << r.n;
  }
}

TEST(RateInterval, AllSeenReachesOne) {
  EXPECT_EQ(rate_interval(20, 20).high, 1.0);
  EXPECT_NEAR(rate_interval(20, 20).low, 1 - .1684, 5e-5);  // mirror of 0/20
}

}  // namespace
}  // namespace midstick::statistics
