// JCGM 100:2008 (GUM), annexes F and G.
#include <gtest/gtest.h>

#include <cmath>
#include <cstdint>

#include "daemon/judge/uncertainty.hpp"
#include "daemon/statistics/rates.hpp"

namespace midstick::judge {
namespace {

// JCGM 100:2008 table G.2, p = 95 % (values recomputed; the table prints two decimals).
TEST(StudentT, GumTableG2) {
  struct Row {
    std::int64_t dof;
    double t;
  };
  for (const Row& r :
       {Row{1, 12.7062}, Row{2, 4.3027}, Row{5, 2.5706}, Row{10, 2.2281}, Row{16, 2.1199}, Row{50, 2.0086}, Row{100, 1.9840}})
    EXPECT_NEAR(statistics::student_t95(r.dof), r.t, 5e-5) << r.dof;
}

// JCGM 100:2008 F.2.2.1 (from memory): a counter's resolution q gives u = q / sqrt(12); q = 62.5 ns -> 18.04 ns. Two such stamps make a
// triangle, whose 95 % half width is q (1 - sqrt(0.05)): k = 1.90 instead of 2 on u sqrt(2).
TEST(Uncertainty, TickStampIsTheCountersResolution) {
  capture::Capture exact;
  exact.clock.uncertainty_ppm = 0;
  const double u = 0.01804 * std::sqrt(2.0);
  EXPECT_NEAR(span_uncertainty_us(exact, {24000}, 1, 1), 0.0625 * (1 - std::sqrt(0.05)), 1e-5);
  EXPECT_NEAR(span_uncertainty_us(exact, {24000}, 1, 1) / u, 1.902, 1e-3);
}

}  // namespace
}  // namespace midstick::judge
