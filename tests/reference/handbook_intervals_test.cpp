// NIST/SEMATECH e-Handbook of Statistical Methods (doi:10.18434/M32189): confidence intervals.
#include <gtest/gtest.h>

#include "daemon/statistics/intervals.hpp"
#include "daemon/statistics/rates.hpp"

namespace midstick::statistics {
namespace {

// 1.3.5.2, ZARR13.DAT: N = 195, mean 9.261460, sd 0.02278881. The printed limits lie about 9.261461, not about the printed mean, so their
// half widths are held to the printed digits and their ends to two units of the last.
TEST(HandbookMeanInterval, Zarr13) {
  const Summary s{195, 9.261460, 0.02278881, 0, 0, 0};
  struct Row {
    double percent, low, high;
  };
  for (const Row& r :
       {Row{50, 9.260358, 9.262564}, Row{75, 9.259578, 9.263344}, Row{90, 9.258764, 9.264158}, Row{95, 9.258242, 9.264679},
        Row{99, 9.257215, 9.265706}, Row{99.9, 9.256008, 9.266914}, Row{99.99, 9.254977, 9.267944}, Row{99.999, 9.254057, 9.268864}}) {
    const auto i = mean_interval(s, r.percent / 100).value();
    EXPECT_NEAR((i.high - i.low) / 2, (r.high - r.low) / 2, 5.1e-7) << r.percent;
    EXPECT_NEAR(i.low, r.low, 2e-6) << r.percent;
    EXPECT_NEAR(i.high, r.high, 2e-6) << r.percent;
  }
}

// 1.3.5.8, GEAR.DAT: N = 100, sd 0.006278908; 95 % interval of sigma 0.005513 to 0.007294 (from memory, recomputed).
TEST(HandbookSdInterval, Gear) {
  const auto i = sd_interval(Summary{100, 0, 0.006278908, 0, 0, 0}).value();
  EXPECT_NEAR(i.low, 0.005513, 5e-7);
  EXPECT_NEAR(i.high, 0.007294, 5e-7);
}

// 7.2.4.2: 4 defective of 20, 90 % exact. The page used a spreadsheet's goal seek, so 2e-6 are tolerated.
TEST(HandbookRateInterval, FourOfTwentyAtNinetyPercent) {
  const auto i = rate_interval(4, 20, 0.90);
  EXPECT_NEAR(i.low, 0.071354, 2e-6);
  EXPECT_NEAR(i.high, 0.401029, 2e-6);
}

TEST(HandbookIntervals, OneValueHasNone) {
  EXPECT_FALSE(mean_interval(Summary{1, 1, 0, 1, 1, 1}));
  EXPECT_FALSE(sd_interval(Summary{1, 1, 0, 1, 1, 1}));
}

}  // namespace
}  // namespace midstick::statistics
