// Factors for control charts: NIST/SEMATECH e-Handbook 6.3.2.1, ASTM Manual 7, "Table A.22 Factors for Constructing Control Charts" (n = 2
// to 20, three to four places). The four places below are recomputed by quadrature; all but two of the printed entries round to them:
// D4(3) is printed 2.574 and D4(18) 1.608, cut instead of rounded.
#include <gtest/gtest.h>

#include <vector>

#include "daemon/statistics/control_chart.hpp"

namespace midstick::statistics {
namespace {

struct Row {
  int n;
  double a2, a3, c4, b3, b4, d2, d3, big_d3, big_d4;
};
const std::vector<Row> table{
    {2, 1.8800, 2.6587, 0.79788, 0.0000, 3.2665, 1.1284, 0.8525, 0.0000, 3.2665},
    {3, 1.0233, 1.9544, 0.88623, 0.0000, 2.5682, 1.6926, 0.8884, 0.0000, 2.5746},
    {4, 0.7286, 1.6281, 0.92132, 0.0000, 2.2660, 2.0588, 0.8798, 0.0000, 2.2821},
    {5, 0.5768, 1.4273, 0.93999, 0.0000, 2.0890, 2.3259, 0.8641, 0.0000, 2.1145},
    {6, 0.4832, 1.2871, 0.95153, 0.0304, 1.9696, 2.5344, 0.8480, 0.0000, 2.0038},
    {7, 0.4193, 1.1819, 0.95937, 0.1177, 1.8823, 2.7044, 0.8332, 0.0757, 1.9243},
    {8, 0.3725, 1.0991, 0.96503, 0.1851, 1.8149, 2.8472, 0.8198, 0.1362, 1.8638},
    {9, 0.3367, 1.0317, 0.96931, 0.2391, 1.7609, 2.9700, 0.8078, 0.1840, 1.8160},
    {10, 0.3083, 0.9754, 0.97266, 0.2837, 1.7163, 3.0775, 0.7971, 0.2230, 1.7770},
    {11, 0.2851, 0.9274, 0.97535, 0.3213, 1.6787, 3.1729, 0.7873, 0.2556, 1.7444},
    {12, 0.2658, 0.8859, 0.97756, 0.3535, 1.6465, 3.2585, 0.7785, 0.2833, 1.7167},
    {13, 0.2494, 0.8495, 0.97941, 0.3816, 1.6184, 3.3360, 0.7704, 0.3072, 1.6928},
    {14, 0.2354, 0.8173, 0.98097, 0.4062, 1.5938, 3.4068, 0.7630, 0.3281, 1.6719},
    {15, 0.2231, 0.7885, 0.98232, 0.4282, 1.5718, 3.4718, 0.7562, 0.3466, 1.6534},
    {16, 0.2123, 0.7626, 0.98348, 0.4479, 1.5521, 3.5320, 0.7499, 0.3630, 1.6370},
    {17, 0.2028, 0.7391, 0.98451, 0.4657, 1.5343, 3.5879, 0.7441, 0.3779, 1.6221},
    {18, 0.1943, 0.7176, 0.98541, 0.4818, 1.5182, 3.6401, 0.7386, 0.3913, 1.6087},
    {19, 0.1866, 0.6979, 0.98621, 0.4966, 1.5034, 3.6890, 0.7335, 0.4035, 1.5965},
    {20, 0.1796, 0.6797, 0.98693, 0.5102, 1.4898, 3.7350, 0.7287, 0.4147, 1.5853},
    {21, 0.1733, 0.6629, 0.98758, 0.5228, 1.4772, 3.7783, 0.7242, 0.4250, 1.5750},
    {22, 0.1675, 0.6473, 0.98817, 0.5344, 1.4656, 3.8194, 0.7199, 0.4345, 1.5655},
    {23, 0.1621, 0.6327, 0.98870, 0.5452, 1.4548, 3.8583, 0.7159, 0.4434, 1.5566},
    {24, 0.1572, 0.6191, 0.98919, 0.5553, 1.4447, 3.8953, 0.7121, 0.4516, 1.5484},
    {25, 0.1526, 0.6063, 0.98964, 0.5648, 1.4352, 3.9306, 0.7084, 0.4593, 1.5407},
};

TEST(ShewhartConstants, Table) {
  for (const Row& r : table) {
    const auto s = shewhart_constants(r.n);
    ASSERT_TRUE(s);
    EXPECT_NEAR(s->a2, r.a2, 5.1e-5) << r.n;
    EXPECT_NEAR(s->a3, r.a3, 5.1e-5) << r.n;
    EXPECT_NEAR(s->c4, r.c4, 5.1e-6) << r.n;
    EXPECT_NEAR(s->b3, r.b3, 5.1e-5) << r.n;
    EXPECT_NEAR(s->b4, r.b4, 5.1e-5) << r.n;
    EXPECT_NEAR(s->d2, r.d2, 5.1e-5) << r.n;
    EXPECT_NEAR(s->d3, r.d3, 5.1e-5) << r.n;
    EXPECT_NEAR(s->big_d3, r.big_d3, 5.1e-5) << r.n;
    EXPECT_NEAR(s->big_d4, r.big_d4, 5.1e-5) << r.n;
  }
}

// As printed: the individuals chart's 2.66 = 3 / d2(2), and the moving range's D4 = 3.267.
TEST(ShewhartConstants, IndividualsChart) {
  const auto s = shewhart_constants(2).value();
  EXPECT_NEAR(3 / s.d2, 2.66, 5e-3);
  EXPECT_NEAR(s.big_d4, 3.267, 5.1e-4);
}

TEST(ShewhartConstants, ThereIsNoChartOfSingleValues) {
  EXPECT_FALSE(shewhart_constants(1));
  EXPECT_FALSE(shewhart_constants(1001));
}

}  // namespace
}  // namespace midstick::statistics
