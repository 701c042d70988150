// NIST/SEMATECH e-Handbook of Statistical Methods (doi:10.18434/M32189), 7.3.5: two processes of 11 values each. Procedure and first ranks
// as on the page; the remaining values and the results from memory, recomputed. T_A = 106, U_A = 81, z = 1.346: not rejected at 1.645.
#include <gtest/gtest.h>

#include <vector>

#include "daemon/statistics/compare.hpp"

namespace midstick::statistics {
namespace {

const std::vector<double> a{.55, .67, .43, .51, .48, .60, .71, .53, .44, .65, .75};
const std::vector<double> b{.49, .68, .59, .72, .67, .75, .65, .77, .62, .48, .59};

TEST(HandbookMannWhitney, TwoProcesses) {
  // The page's U is 121 + 66 - T_A = 81: pairs in which B is larger.
  const auto w = mann_whitney(b, a).value();
  EXPECT_EQ(w.u, 81);
  EXPECT_EQ(mann_whitney(a, b)->u, 40);
  EXPECT_NEAR(mann_whitney_z(w.u, 11, 11), 1.346, 5e-4);
  EXPECT_NEAR(w.effect, 2 * 81.0 / 121 - 1, 1e-12);
  EXPECT_TRUE(w.exact);
  // The exact p lies by the normal approximations with and without continuity correction: 0.18846 and 0.17765 (recomputed).
  EXPECT_GT(w.p, 0.175);
  EXPECT_LT(w.p, 0.195);
}

// Without ties the counts are whole numbers: n = m = 3, all of one above all of the other is one order of 20, twice (from memory: every
// table starts with it); n = 4, m = 5, U = 1: 2 of 126, twice.
TEST(MannWhitneyExact, SmallestTables) {
  EXPECT_NEAR(mann_whitney(std::vector<double>{4, 5, 6}, std::vector<double>{1, 2, 3})->p, 2.0 / 20, 1e-14);
  EXPECT_NEAR(mann_whitney(std::vector<double>{1, 2, 3, 5}, std::vector<double>{4, 6, 7, 8, 9})->p, 4.0 / 126, 1e-14);
}

}  // namespace
}  // namespace midstick::statistics
