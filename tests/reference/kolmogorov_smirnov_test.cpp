// Exact values of the two-sample Kolmogorov-Smirnov statistic. P(D_100,100 <= 0.1) = .41699: T. Ferguson's calculator (UCLA); D = 30/40 at
// n = 5, 8 and 5 %: a published table of critical values. The table of equal sizes is recomputed by counting lattice paths with whole
// numbers: smallest a with P(D >= a / n) <= 5 % and 1 %, and that probability.
#include <gtest/gtest.h>

#include <vector>

#include "daemon/statistics/compare.hpp"

namespace midstick::statistics {
namespace {

/// Two samples of n and m without ties whose distance is exactly a / n: the first `a` of the first sample lie below everything else, and
/// then the two alternate (n = m), or the second comes first (n != m).
KolmogorovSmirnov apart(int n, int a) {
  std::vector<double> first, second;
  double at = 0;
  for (int i = 0; i < a; ++i) first.push_back(at++);
  for (int i = a; i < n; ++i) second.push_back(at++), first.push_back(at++);
  for (int i = n - a; i < n; ++i) second.push_back(at++);
  return kolmogorov_smirnov(first, second).value();
}

TEST(KolmogorovSmirnov, FergusonsHundred) {
  // P(D <= 0.1) = 1 - P(D >= 0.11).
  const auto next = apart(100, 11);
  ASSERT_NEAR(next.d, 0.11, 1e-12);
  EXPECT_NEAR(1 - next.p, 0.41699, 5e-6);
}

TEST(KolmogorovSmirnov, FiveAndEight) {
  // Three quarters of the eight lie below all five.
  const auto k = kolmogorov_smirnov(std::vector<double>{10, 11, 12, 13, 14}, std::vector<double>{1, 2, 3, 4, 5, 6, 20, 21}).value();
  ASSERT_NEAR(k.d, 30.0 / 40, 1e-12);
  EXPECT_LT(k.p, 0.05);
  EXPECT_NEAR(k.p, 0.04196, 5e-6);  // recomputed
  const auto nearer = kolmogorov_smirnov(std::vector<double>{10, 11, 12, 13, 14}, std::vector<double>{1, 2, 3, 4, 5, 19, 20, 21}).value();
  EXPECT_GT(nearer.p, 0.05);
}

struct Row {
  int n, at_05;
  double p_05;
  int at_01;
  double p_01;
};
const std::vector<Row> table{
    {4, 4, 0.02857, 0, 0},          {5, 5, 0.00794, 5, 0.00794},  {6, 5, 0.02597, 6, 0.00216},   {7, 6, 0.00816, 6, 0.00816},
    {8, 6, 0.01865, 7, 0.00249},    {9, 6, 0.03357, 7, 0.00629},  {10, 7, 0.01234, 8, 0.00206},  {11, 7, 0.02074, 8, 0.00437},
    {12, 7, 0.03144, 8, 0.00786},   {15, 8, 0.02625, 9, 0.00766}, {20, 9, 0.03354, 11, 0.00397}, {25, 10, 0.03561, 12, 0.00561},
    {30, 11, 0.03458, 13, 0.00655},
};

TEST(KolmogorovSmirnov, CriticalValuesOfEqualSizes) {
  for (const Row& r : table) {
    EXPECT_NEAR(apart(r.n, r.at_05).p, r.p_05, 5.1e-6) << r.n;
    EXPECT_GT(apart(r.n, r.at_05 - 1).p, 0.05) << r.n;
    if (r.at_01 == 0) continue;  // no distance is that unlikely
    EXPECT_NEAR(apart(r.n, r.at_01).p, r.p_01, 5.1e-6) << r.n;
    EXPECT_GT(apart(r.n, r.at_01 - 1).p, 0.01) << r.n;
  }
}

}  // namespace
}  // namespace midstick::statistics
