#include "daemon/statistics/rates.hpp"
#include "daemon/statistics/summary.hpp"

#include <gtest/gtest.h>

#include <vector>

namespace midstick::statistics {
namespace {

// NIST StRD univariate set NumAcc2: 1.2 and then 1.1, 1.3 alternating, n = 1001; certified mean 1.2, sd 0.1.
TEST(Summarise, NistNumAcc2) {
  std::vector<double> x{1.2};
  for (int i = 0; i < 500; ++i) x.push_back(1.1), x.push_back(1.3);
  const statistics::Summary s = statistics::summarise(x);
  EXPECT_NEAR(s.mean, 1.2, 1e-13);
  EXPECT_NEAR(s.sd, 0.1, 1e-13);
}

// NIST StRD NumAcc4: the same around 10000000.2; certified mean 10000000.2, sd 0.1.
TEST(Summarise, NistNumAcc4KeepsItsDigits) {
  std::vector<double> x{10000000.2};
  for (int i = 0; i < 500; ++i) x.push_back(10000000.1), x.push_back(10000000.3);
  const statistics::Summary s = statistics::summarise(x);
  EXPECT_NEAR(s.mean, 10000000.2, 1e-8);
  EXPECT_NEAR(s.sd, 0.1, 1e-7);
}

TEST(Summarise, MedianOfEvenCountIsTheMiddle) {
  EXPECT_EQ(statistics::summarise(std::vector<double>{4, 1, 3, 2}).median, 2.5);
  EXPECT_EQ(statistics::summarise(std::vector<double>{5, 1, 3}).median, 3);
}

TEST(Summarise, NothingGivesZeros) {
  const statistics::Summary s = statistics::summarise(std::vector<double>{});
  EXPECT_EQ(s.samples, 0);
  EXPECT_EQ(s.mean, 0);
}

TEST(Rates, ChanceOfSoFewIsTheBinomialSum) {
  EXPECT_NEAR(statistics::at_most(0, 10, 0.5), 1.0 / 1024, 1e-12);
  EXPECT_NEAR(statistics::at_most(1, 10, 0.5), 11.0 / 1024, 1e-12);
  EXPECT_EQ(statistics::at_most(0, 10, 0), 1);
  EXPECT_EQ(statistics::at_most(3, 10, 1), 0);
}

TEST(Percentile, IsTheNearestRank) {
  std::vector<double> x;
  for (int i = 1; i <= 100; ++i) x.push_back(i);
  EXPECT_EQ(statistics::percentile(x, 95), 95);
  EXPECT_EQ(statistics::percentile(x, 99.9), 100);
  EXPECT_EQ(statistics::percentile(x, 100), 100);
  EXPECT_EQ(statistics::percentile({7}, 50), 7);
}

}  // namespace
}  // namespace midstick::statistics
