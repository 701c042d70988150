// NIST Statistical Reference Datasets (NIST/ITL, itl.nist.gov/div898/strd), univariate: certified mean, sd (n - 1) and lag-1
// autocorrelation. Mavro, Michelso and Lottery with 15 certified digits; NumAcc1 to 4 are exact by their formulas. A double cannot hold
// NumAcc3's and 4's decimals: exact arithmetic on the rounded values gives an sd of 0.1000000000349 and 0.1000000005588, so no more than 9
// and 8 digits can be asked there.
#include <gtest/gtest.h>

#include <cmath>
#include <vector>

#include "daemon/statistics/summary.hpp"
#include "tests/reference/reference.hpp"

namespace midstick::statistics {
namespace {

using reference::digits;

struct Set {
  const char* file;
  std::int64_t n;
  double mean, sd, lag1;
};

class NistStrdUnivariate : public ::testing::TestWithParam<Set> {};

TEST_P(NistStrdUnivariate, CertifiedValues) {
  const Set& set = GetParam();
  const auto x = reference::column(reference::table(set.file), 0);
  const Summary s = summarise(x);
  EXPECT_EQ(s.samples, set.n);
  EXPECT_GE(digits(s.mean, set.mean), 14);
  EXPECT_GE(digits(s.sd, set.sd), 12);
  EXPECT_GE(digits(lag1_autocorrelation(x), set.lag1), 12);
}

INSTANTIATE_TEST_SUITE_P(Sets, NistStrdUnivariate,
                         ::testing::Values(Set{"strd/mavro.csv", 50, 2.00185600000000, 0.000429123454003053, 0.937989183438248},
                                           Set{"strd/michelso.csv", 100, 299.852400000000, 0.0790105478190518, 0.535199668621283},
                                           Set{"strd/lottery.csv", 218, 518.958715596330, 291.699727470969, -0.120948622967393}),
                         [](const auto& info) { return std::string(info.param.file).substr(5, 5); });

/// base + 0.2, then 500 pairs of base + 0.1 and base + 0.3.
std::vector<double> num_acc(double base) {
  std::vector<double> x{base + 0.2};
  for (int i = 0; i < 500; ++i) x.push_back(base + 0.1), x.push_back(base + 0.3);
  return x;
}

TEST(NistStrdNumAcc, One) {
  const std::vector<double> x{10000001, 10000003, 10000002};
  EXPECT_EQ(summarise(x).mean, 10000002);
  EXPECT_EQ(summarise(x).sd, 1);
  EXPECT_EQ(lag1_autocorrelation(x), -0.5);
}

TEST(NistStrdNumAcc, TwoToFour) {
  struct Row {
    double base, mean_digits, sd_digits, lag1_digits;
  };
  for (const Row& r : {Row{1, 14, 14, 13}, Row{1'000'000, 14, 9, 10}, Row{10'000'000, 14, 8, 10}}) {
    const auto x = num_acc(r.base);
    EXPECT_GE(digits(summarise(x).mean, r.base + 0.2), r.mean_digits) << r.base;
    EXPECT_GE(digits(summarise(x).sd, 0.1), r.sd_digits) << r.base;
    EXPECT_GE(digits(lag1_autocorrelation(x), -0.999), r.lag1_digits) << r.base;
  }
}

// That these sets can fail an implementation: the formula with the sum of squares gets NumAcc4's variance wrong in its first digit.
TEST(NistStrdNumAcc, CatchesTheSumOfSquares) {
  double sum = 0, square = 0;
  const auto x = num_acc(10'000'000);
  for (const double v : x) sum += v, square += v * v;
  const auto n = static_cast<double>(x.size());
  const double variance = (square - sum * sum / n) / (n - 1);
  EXPECT_LT(digits(variance, 0.01), 1);
}

}  // namespace
}  // namespace midstick::statistics
