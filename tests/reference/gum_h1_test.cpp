// JCGM 100:2008, H.1: calibration of an end gauge of 50 mm. Inputs as the example gives them (seen in the documentation of a national
// metrology institute's uncertainty package); nu_eff and U99 of the standard's text are from memory. All lengths in nm.
#include <gtest/gtest.h>

#include <cmath>

#include "daemon/statistics/budget.hpp"

namespace midstick::statistics {
namespace {

constexpr double kStandard = 50'000'623;  // l_s
constexpr double kDifference = 215;       // d, mean of five comparisons
constexpr double kAlpha = 11.5e-6;        // per degC
constexpr double kTheta = -0.1;           // degC

Budget difference() {
  return combine({{"repeated comparisons", Evaluation::type_a, Distribution::normal, 5.8, 1, 24, "nm"},
                  {"comparator, random", Evaluation::type_a, Distribution::normal, 3.9, 1, 5, "nm"},
                  {"comparator, systematic", Evaluation::type_b, Distribution::normal, 6.7, 1, 8, "nm"}},
                 0.99);
}

Budget end_gauge() {
  const Budget d = difference();
  return combine({{"standard", Evaluation::type_b, Distribution::normal, 25, 1, 18, "nm"},
                  {"difference", Evaluation::type_a, Distribution::normal, d.combined, 1, *d.dof, "nm"},
                  {"difference of expansion", Evaluation::type_b, Distribution::rectangular, 1e-6, -kStandard * kTheta, 50, "1/degC"},
                  {"difference of temperature", Evaluation::type_b, Distribution::rectangular, 0.05, -kStandard * kAlpha, 2, "degC"}},
                 0.99);
}

TEST(GumH1, LengthIsTheStandardAndTheDifference) { EXPECT_EQ(kStandard + kDifference, 50'000'838); }

TEST(GumH1, DifferenceHasItsOwnBudget) {
  const Budget d = difference();
  EXPECT_NEAR(d.combined, 9.7, 0.05);
  // The example goes on with u rounded to 9.7, which gives the 25.6 it prints; unrounded it is 25.45.
  EXPECT_NEAR(*d.dof * std::pow(9.7 / d.combined, 4), 25.6, 0.05);
  EXPECT_NEAR(*d.dof, 25.45, 0.005);  // recomputed
}

TEST(GumH1, ContributionsAreThoseOfTheTable) {
  const Budget l = end_gauge();
  EXPECT_DOUBLE_EQ(l.rows[0].contribution(), 25);
  EXPECT_NEAR(l.rows[2].contribution(), 2.88679, 5e-5);
  EXPECT_NEAR(l.rows[3].contribution(), 16.599, 5e-4);
}

TEST(GumH1, CombinedUncertaintyDegreesOfFreedomAndExpandedUncertainty) {
  const Budget l = end_gauge();
  EXPECT_NEAR(l.combined, 32, 0.5);
  EXPECT_NEAR(l.combined, 31.67, 0.01);  // recomputed: 32 is the printed, rounded value
  EXPECT_EQ(static_cast<int>(*l.dof), 16);
  EXPECT_NEAR(*l.dof, 16.76, 0.05);  // recomputed; the text prints 16.7, from rounded inputs
  EXPECT_NEAR(l.k, 2.92, 0.005);     // table G.2
  EXPECT_NEAR(l.expanded, 93, 0.7);  // 2.92 x 32 = 93 printed; 2.92 x 31.67 = 92.5
}

TEST(GumH1, ForgettingTheDegreesOfFreedomIsSeen) {
  auto rows = end_gauge().rows;
  for (auto& row : rows) row.dof = std::numeric_limits<double>::infinity();
  EXPECT_LT(combine(rows, 0.99).expanded, 83) << "k = 2.576 instead of 2.92";
}

}  // namespace
}  // namespace midstick::statistics
