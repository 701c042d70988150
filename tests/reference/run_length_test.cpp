// Average run lengths of CUSUM (k = 1/2) and Shewhart charts, from an independent solution of the integral equation (four digits) that was
// made for this purpose. The section of the NIST/SEMATECH e-Handbook is 6.3.2.3.1; its printed 336 and 930 (one-sided, shift 0) and
// Montgomery's 168 and 465 (two-sided) are from memory.
#include <gtest/gtest.h>

#include <cmath>
#include <vector>

#include "daemon/statistics/run_length.hpp"

namespace midstick::statistics {
namespace {

struct Row {
  double shift, h4, h5, h4_two, h5_two, shewhart;
};
const std::vector<Row> table{
    {0, 335.4, 930.9, 167.7, 465.4, 370.40},   {0.25, 77.08, 141.7, 74.22, 139.5, 281.15}, {0.5, 26.68, 38.01, 26.63, 38.00, 155.22},
    {0.75, 13.29, 17.05, 13.29, 17.05, 81.22}, {1, 8.383, 10.38, 8.383, 10.38, 43.89},     {1.5, 4.747, 5.747, 4.747, 5.747, 14.97},
    {2, 3.343, 4.009, 3.343, 4.009, 6.30},     {2.5, 2.620, 3.114, 2.620, 3.114, 3.24},    {3, 2.194, 2.573, 2.194, 2.573, 2.00},
    {4, 1.708, 2.013, 1.708, 2.013, 1.19},
};

/// Half a unit of the fourth digit.
double half_digit(double value) { return 0.5001 * std::pow(10, std::floor(std::log10(value)) - 3); }

TEST(RunLength, CusumTable) {
  for (const Row& r : table) {
    EXPECT_NEAR(cusum_run_length(r.shift, 0.5, 4), r.h4, half_digit(r.h4)) << r.shift;
    EXPECT_NEAR(cusum_run_length(r.shift, 0.5, 5), r.h5, half_digit(r.h5)) << r.shift;
    EXPECT_NEAR(cusum_run_length_two_sided(r.shift, 0.5, 4), r.h4_two, half_digit(r.h4_two)) << r.shift;
    EXPECT_NEAR(cusum_run_length_two_sided(r.shift, 0.5, 5), r.h5_two, half_digit(r.h5_two)) << r.shift;
  }
}

TEST(RunLength, ShewhartTable) {
  for (const Row& r : table) EXPECT_NEAR(shewhart_run_length(r.shift), r.shewhart, 0.00501) << r.shift;
}

// From memory: the printed figures, to their last digit.
TEST(RunLength, PrintedFigures) {
  EXPECT_NEAR(cusum_run_length(0, 0.5, 4), 336, 1);
  EXPECT_NEAR(cusum_run_length(0, 0.5, 5), 930, 1);
  EXPECT_NEAR(cusum_run_length_two_sided(0, 0.5, 4), 168, 1);
  EXPECT_NEAR(cusum_run_length_two_sided(0, 0.5, 5), 465, 1);
}

// Lucas and Saccucci, Technometrics 32 (1990) 1 (from memory): EWMA charts designed for an in-control run length of 500.
TEST(RunLength, EwmaDesignsForFiveHundred) {
  struct Row {
    double weight, limit;
  };
  for (const Row& r : {Row{.1, 2.814}, Row{.25, 2.998}, Row{.5, 3.071}})
    EXPECT_NEAR(ewma_run_length(0, r.weight, r.limit), 500, 1.5) << r.weight;  // the limit's last digit is worth 1.6
}

}  // namespace
}  // namespace midstick::statistics
