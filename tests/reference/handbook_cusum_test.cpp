// NIST/SEMATECH e-Handbook of Statistical Methods (doi:10.18434/M32189), 6.3.2.3: CUSUM control charts. Target 325, k = 0.3175, h = 4.1959.
// The series' third decimal and the worked table are from memory; recomputed they agree with one another exactly. First signal at group 14.
#include <gtest/gtest.h>

#include <cmath>
#include <vector>

#include "daemon/statistics/control_chart.hpp"

namespace midstick::statistics {
namespace {

struct Row {
  double x, high, low;
};
const std::vector<Row> worked{{324.925, 0, 0},       {324.675, 0, .0075},   {324.725, 0, 0},       {324.350, 0, .3325},
                              {325.350, .0325, 0},   {325.225, 0, 0},       {324.125, 0, .5575},   {324.525, 0, .7150},
                              {325.225, 0, .1725},   {324.600, 0, .2550},   {324.625, 0, .3125},   {325.150, 0, 0},
                              {328.325, 3.0075, 0},  {327.250, 4.9400, 0},  {327.825, 7.4475, 0},  {328.500, 10.6300, 0},
                              {326.675, 11.9875, 0}, {327.775, 14.4450, 0}, {326.875, 16.0025, 0}, {328.350, 19.0350, 0}};
const CusumPlan plan{325, 0.3175, 4.1959};

std::vector<double> values() {
  std::vector<double> x;
  for (const Row& r : worked) x.push_back(r.x);
  return x;
}

TEST(HandbookCusum, WorkedTable) {
  const auto points = cusum(values(), plan);
  ASSERT_EQ(points.size(), worked.size());
  for (std::size_t i = 0; i < worked.size(); ++i) {
    EXPECT_NEAR(points[i].high, worked[i].high, 5e-5) << "group " << i + 1;
    EXPECT_NEAR(points[i].low, worked[i].low, 5e-5) << "group " << i + 1;
  }
}

TEST(HandbookCusum, SignalsAtGroup14) {
  const auto alarm = first_alarm(cusum(values(), plan), plan);
  ASSERT_TRUE(alarm);
  EXPECT_EQ(alarm->at + 1, 14u);
  EXPECT_TRUE(alarm->upward);
  EXPECT_EQ(alarm->began + 1, 13u);                    // last zero at group 12: by hand from the table
  EXPECT_NEAR(alarm->shift, 0.3175 + 4.94 / 2, 5e-5);  // likewise
}

TEST(HandbookCusum, DecisionValueOfThePage) { EXPECT_NEAR(2 * plan.allowance * std::log(1 / 0.00135), plan.decision, 5e-5); }

}  // namespace
}  // namespace midstick::statistics
