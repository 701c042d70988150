// NIST Statistical Reference Datasets (NIST/ITL, itl.nist.gov/div898/strd), linear regression. Data and certified values as in the files
// of the collection (certified to 15 digits). The digits asked of each are what long double QR reaches on it, with a margin of one or two.
#include <gtest/gtest.h>

#include <vector>

#include "daemon/statistics/least_squares.hpp"
#include "daemon/statistics/line_fit.hpp"
#include "tests/reference/reference.hpp"

namespace midstick::statistics {
namespace {

using reference::column;
using reference::digits;
using reference::table;

struct Certified {
  double estimate, sd;
};

void expect_coefficients(const LinearFit& fit, const std::vector<Certified>& certified, double wanted) {
  ASSERT_EQ(fit.coefficients.size(), certified.size());
  for (std::size_t i = 0; i < certified.size(); ++i) {
    EXPECT_GE(digits(fit.coefficients[i], certified[i].estimate), wanted) << "B" << i;
    EXPECT_GE(digits(fit.u(i), certified[i].sd), wanted) << "sd of B" << i;
  }
}

TEST(NistStrdLinear, Norris) {
  const auto rows = table("strd/norris.csv");
  ASSERT_EQ(rows.size(), 36u);
  const auto f = fit_line(column(rows, 0), column(rows, 1));
  ASSERT_TRUE(f);
  EXPECT_GE(digits(f->intercept, -0.262323073774029), 13);
  EXPECT_GE(digits(f->u_intercept, 0.232818234301152), 13);
  EXPECT_GE(digits(f->slope, 1.00211681802045), 14);
  EXPECT_GE(digits(f->u_slope, 0.429796848199937E-03), 14);
  EXPECT_GE(digits(f->residual_sd, 0.884796396144373), 14);
  EXPECT_GE(digits(f->covariance, -7.74327536339570e-05), 10);  // not certified: a library's own test of this set, good to 1e-10
  EXPECT_EQ(f->dof, 34);
}

TEST(NistStrdLinear, NorrisByTheGeneralFit) {
  const auto rows = table("strd/norris.csv");
  const auto f = fit_polynomial(column(rows, 0), 1, column(rows, 1));
  ASSERT_TRUE(f);
  expect_coefficients(*f, {{-0.262323073774029, 0.232818234301152}, {1.00211681802045, 0.429796848199937E-03}}, 13);
  EXPECT_GE(digits(f->r_squared, 0.999993745883712), 14);
  EXPECT_GE(digits(f->residual_sum, 26.6173985294224), 13);
  EXPECT_GE(digits(f->covariance[1], -7.74327536339570e-05), 10);
  EXPECT_EQ(f->covariance[1], f->covariance[2]);
}

TEST(NistStrdLinear, Pontius) {
  const auto rows = table("strd/pontius.csv");
  ASSERT_EQ(rows.size(), 40u);
  const auto f = fit_polynomial(column(rows, 0), 2, column(rows, 1));
  ASSERT_TRUE(f);
  expect_coefficients(*f,
                      {{0.673565789473684E-03, 0.107938612033077E-03},
                       {0.732059160401003E-06, 0.157817399981659E-09},
                       {-0.316081871345029E-14, 0.486652849992036E-16}},
                      12);
  EXPECT_GE(digits(f->residual_sd, 0.205177424076185E-03), 12);
  EXPECT_GE(digits(f->r_squared, 0.999999900178537), 14);
}

/// Through the origin: the share explained is about zero, not about the mean.
void expect_through_origin(const std::vector<double>& x, const std::vector<double>& y, double slope, double sd, double residual_sd,
                           double r_squared) {
  const auto f = fit_linear(x, 1, y);
  ASSERT_TRUE(f);
  expect_coefficients(*f, {{slope, sd}}, 14);
  EXPECT_GE(digits(f->residual_sd, residual_sd), 14);
  EXPECT_GE(digits(f->r_squared, r_squared), 14);
}

TEST(NistStrdLinear, NoInt1) {
  std::vector<double> x, y;
  for (int i = 60; i <= 70; ++i) x.push_back(i), y.push_back(i + 70);
  expect_through_origin(x, y, 2.07438016528926, 0.165289256198347E-01, 3.56753034006338, 0.999365492298663);
}

TEST(NistStrdLinear, NoInt2) {
  expect_through_origin({4, 5, 6}, {3, 4, 4}, 0.727272727272727, 0.420827318078432E-01, 0.369274472937998, 0.993348115299335);
}

TEST(NistStrdLinear, Longley) {
  const auto rows = table("strd/longley.csv");
  ASSERT_EQ(rows.size(), 16u);
  std::vector<double> design;
  for (const auto& row : rows) {
    design.push_back(1);
    design.insert(design.end(), row.begin() + 1, row.end());
  }
  const auto f = fit_linear(design, 7, column(rows, 0));
  ASSERT_TRUE(f);
  expect_coefficients(*f,
                      {{-3482258.63459582, 890420.383607373},
                       {15.0618722713733, 84.9149257747669},
                       {-0.358191792925910E-01, 0.334910077722432E-01},
                       {-2.02022980381683, 0.488399681651699},
                       {-1.03322686717359, 0.214274163161675},
                       {-0.511041056535807E-01, 0.226073200069370},
                       {1829.15146461355, 455.478499142212}},
                      12);
  EXPECT_GE(digits(f->residual_sd, 304.854073561965), 13);
  EXPECT_GE(digits(f->r_squared, 0.995479004577296), 14);
}

// Wampler1 and 2 by their formulas: y = sum x^k, and y = sum (x/10)^k, k = 0..5, x = 0..20: all coefficients 1, or 10^-k, all sd 0
// (formulas from memory; NIST's data carry Wampler2 rounded to 5 decimals, which is exact).
TEST(NistStrdLinear, Wampler1And2AreExactPolynomials) {
  for (const double unit : {1.0, 10.0}) {
    std::vector<double> x, y;
    for (int i = 0; i <= 20; ++i) {
      double sum = 0;
      for (int k = 5; k >= 0; --k) sum = sum * (i / unit) + 1;
      x.push_back(i), y.push_back(sum);
    }
    const auto f = fit_polynomial(x, 5, y);
    ASSERT_TRUE(f);
    for (std::size_t k = 0; k <= 5; ++k) {
      EXPECT_GE(digits(f->coefficients[k], std::pow(unit, -static_cast<double>(k))), unit == 1 ? 11 : 10) << k;
      EXPECT_LT(f->u(k), 1e-9);
    }
  }
}

// Degree 10: in double only about 7 digits survive; long double keeps ten here, and ten are asked.
TEST(NistStrdLinear, Filip) {
  const auto rows = table("strd/filip.csv");
  ASSERT_EQ(rows.size(), 82u);
  const auto f = fit_polynomial(column(rows, 0), 10, column(rows, 1));
  ASSERT_TRUE(f);
  expect_coefficients(*f,
                      {{-1467.48961422980, 298.084530995537},
                       {-2772.17959193342, 559.779865474950},
                       {-2316.37108160893, 466.477572127796},
                       {-1127.97394098372, 227.204274477751},
                       {-354.478233703349, 71.6478660875927},
                       {-75.1242017393757, 15.2897178747400},
                       {-10.8753180355343, 2.23691159816033},
                       {-1.06221498588947, 0.221624321934227},
                       {-0.670191154593408E-01, 0.142363763154724E-01},
                       {-0.246781078275479E-02, 0.535617408889821E-03},
                       {-0.402962525080404E-04, 0.896632837373868E-05}},
                      10);
  EXPECT_GE(digits(f->residual_sd, 0.334801051324544E-02), 12);
  EXPECT_GE(digits(f->r_squared, 0.996727416185620), 13);
}

}  // namespace
}  // namespace midstick::statistics
