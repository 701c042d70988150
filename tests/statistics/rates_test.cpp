#include "daemon/statistics/rates.hpp"
#include "daemon/statistics/summary.hpp"

#include <gtest/gtest.h>

#include <vector>

namespace midstick::statistics {
namespace {

TEST(Summarise, MedianOfEvenCountIsTheMiddle) {
  EXPECT_EQ(summarise(std::vector<double>{4, 1, 3, 2}).median, 2.5);
  EXPECT_EQ(summarise(std::vector<double>{5, 1, 3}).median, 3);
}

TEST(Summarise, NothingGivesZeros) {
  const Summary s = summarise(std::vector<double>{});
  EXPECT_EQ(s.samples, 0);
  EXPECT_EQ(s.mean, 0);
}

TEST(Rates, ChanceOfSoFewIsTheBinomialSum) {
  EXPECT_NEAR(at_most(0, 10, 0.5), 1.0 / 1024, 1e-12);
  EXPECT_NEAR(at_most(1, 10, 0.5), 11.0 / 1024, 1e-12);
  EXPECT_EQ(at_most(0, 10, 0), 1);
  EXPECT_EQ(at_most(3, 10, 1), 0);
}

TEST(Percentile, IsTheNearestRank) {
  std::vector<double> x;
  for (int i = 1; i <= 100; ++i) x.push_back(i);
  EXPECT_EQ(percentile(x, 95), 95);
  EXPECT_EQ(percentile(x, 99.9), 100);
  EXPECT_EQ(percentile(x, 100), 100);
  EXPECT_EQ(percentile({7}, 50), 7);
}

}  // namespace
}  // namespace midstick::statistics
