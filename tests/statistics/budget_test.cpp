#include "daemon/statistics/budget.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace midstick::statistics {
namespace {

TEST(Budget, DivisorsAreThoseOfTheShapes) {
  EXPECT_DOUBLE_EQ(divisor(Distribution::normal), 1);
  EXPECT_DOUBLE_EQ(divisor(Distribution::rectangular), std::sqrt(3.0));
  EXPECT_DOUBLE_EQ(divisor(Distribution::triangular), std::sqrt(6.0));
  EXPECT_DOUBLE_EQ(divisor(Distribution::arcsine), std::sqrt(2.0));
}

TEST(Budget, TickOfACounterIsTheTickOverRootTwelve) {  // F.2.2.1
  const BudgetRow tick{"tick", Evaluation::type_b, Distribution::rectangular, 62.5 / 2, 1, 1e9, "ns"};
  EXPECT_NEAR(tick.standard(), 18.04, 0.005);
}

TEST(Budget, WithoutDegreesOfFreedomTheFactorIsTheNormals) {
  const Budget b = combine({{"a", Evaluation::type_b, Distribution::normal, 3}, {"b", Evaluation::type_b, Distribution::normal, 4}});
  EXPECT_DOUBLE_EQ(b.combined, 5);
  EXPECT_TRUE(std::isinf(*b.dof));
  EXPECT_NEAR(b.expanded, 5 * 1.959964, 1e-5);
}

TEST(Budget, FactorGrowsWhenReadingsAreFew) {  // table G.2
  const auto k = [](double dof) { return combine({{"a", Evaluation::type_a, Distribution::normal, 1, 1, dof}}).k; };
  EXPECT_NEAR(k(4), 2.7764, 5e-5);
  EXPECT_NEAR(k(4.9), 2.7764, 5e-5) << "rounded down";
  EXPECT_NEAR(k(100), 1.9840, 5e-5);
}

TEST(Budget, SignOfASensitivityCountsOnlyTogetherWithACorrelation) {
  const std::vector<BudgetRow> rows{{"rise", Evaluation::type_b, Distribution::normal, 1, -1},
                                    {"fall", Evaluation::type_b, Distribution::normal, 1, 1}};
  EXPECT_DOUBLE_EQ(combine(rows).combined, std::sqrt(2.0));
  EXPECT_NEAR(combine(rows, 0.95, {{0, 1, 1.0}}).combined, 0, 1e-12) << "an error that both ends share takes nothing from a width";
}

TEST(Budget, NothingMakesNothing) { EXPECT_EQ(combine({}).expanded, 0); }

}  // namespace
}  // namespace midstick::statistics
