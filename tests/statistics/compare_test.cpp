#include "daemon/statistics/compare.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <random>
#include <vector>

namespace midstick::statistics {
namespace {

double u_of(const std::vector<double>& a, const std::vector<double>& b) {
  double u = 0;
  for (const double x : a)
    for (const double y : b) u += x > y ? 1 : x == y ? 0.5 : 0;
  return u;
}

double d_of(const std::vector<double>& a, const std::vector<double>& b) {
  double d = 0;
  for (const auto* sample : {&a, &b})
    for (const double at : *sample) {
      const auto share = [at](const std::vector<double>& s) {
        return static_cast<double>(std::count_if(s.begin(), s.end(), [at](double v) { return v <= at; })) / static_cast<double>(s.size());
      };
      d = std::max(d, std::abs(share(a) - share(b)));
    }
  return d;
}

struct Shares {
  double u{0}, d{0};
};

/// Both p-values from their meaning: every way to deal the pooled values out again, counted one by one.
Shares dealt_out(const std::vector<double>& a, const std::vector<double>& b) {
  std::vector<double> all = a;
  all.insert(all.end(), b.begin(), b.end());
  const double middle = static_cast<double>(a.size() * b.size()) / 2, u = std::abs(u_of(a, b) - middle), d = d_of(a, b);
  std::vector<bool> mine(all.size(), false);
  std::fill(mine.begin(), mine.begin() + static_cast<std::ptrdiff_t>(a.size()), true);
  std::sort(mine.begin(), mine.end());
  double ways = 0;
  Shares s;
  do {
    std::vector<double> x, y;
    for (std::size_t i = 0; i < all.size(); ++i) (mine[i] ? x : y).push_back(all[i]);
    ++ways;
    if (std::abs(u_of(x, y) - middle) >= u - 1e-9) ++s.u;
    if (d_of(x, y) >= d - 1e-9) ++s.d;
  } while (std::next_permutation(mine.begin(), mine.end()));
  return {s.u / ways, s.d / ways};
}

class TwoSamples : public ::testing::TestWithParam<unsigned> {};

// Small whole numbers, so that most values are tied, as widths in ticks are.
TEST_P(TwoSamples, ExactValuesAreThoseOfDealingOut) {
  std::mt19937 random(GetParam());
  std::uniform_int_distribution<int> size(1, 6), value(0, static_cast<int>(2 + GetParam() % 9));
  std::vector<double> a(static_cast<std::size_t>(size(random))), b(static_cast<std::size_t>(size(random)));
  for (auto* sample : {&a, &b})
    for (double& v : *sample) v = value(random);
  const Shares wanted = dealt_out(a, b);
  const auto w = mann_whitney(a, b).value();
  EXPECT_EQ(w.u, u_of(a, b)) << "seed " << GetParam();
  EXPECT_NEAR(w.p, wanted.u, 1e-12) << "seed " << GetParam();
  const auto k = kolmogorov_smirnov(a, b).value();
  EXPECT_NEAR(k.d, d_of(a, b), 1e-12) << "seed " << GetParam();
  EXPECT_NEAR(k.p, wanted.d, 1e-12) << "seed " << GetParam();
}

INSTANTIATE_TEST_SUITE_P(Seeds, TwoSamples, ::testing::Range(1u, 61u));

TEST(MannWhitney, EffectIsTheShareOfPairs) {
  EXPECT_EQ(mann_whitney(std::vector<double>{5, 6}, std::vector<double>{1, 2, 3})->effect, 1);
  EXPECT_EQ(mann_whitney(std::vector<double>{1}, std::vector<double>{2, 3})->effect, -1);
  EXPECT_EQ(mann_whitney(std::vector<double>{2}, std::vector<double>{1, 2, 3})->effect, 0);
}

TEST(MannWhitney, ApproximationMeetsTheCountWhereItTakesOver) {
  std::mt19937 random(3);
  std::normal_distribution<double> normal;
  std::vector<double> a, b;
  for (int i = 0; i < 30; ++i) a.push_back(std::round(normal(random) * 5)), b.push_back(std::round(normal(random) * 5 + 2));
  const auto exact = mann_whitney(a, b).value();
  b.push_back(1);
  const auto approximate = mann_whitney(a, b).value();
  EXPECT_TRUE(exact.exact);
  EXPECT_FALSE(approximate.exact);
  EXPECT_NEAR(exact.p, approximate.p, 0.01);
}

TEST(TwoSampleTests, NothingToCompare) {
  EXPECT_FALSE(mann_whitney({}, std::vector<double>{1}));
  EXPECT_FALSE(kolmogorov_smirnov(std::vector<double>{1}, {}));
  EXPECT_EQ(mann_whitney(std::vector<double>{1, 1}, std::vector<double>{1, 1})->p, 1);
  EXPECT_EQ(kolmogorov_smirnov(std::vector<double>{1, 1}, std::vector<double>{1, 1})->p, 1);
}

}  // namespace
}  // namespace midstick::statistics
