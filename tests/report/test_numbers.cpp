#include <gtest/gtest.h>

#include <cmath>
#include <limits>

#include "daemon/judge/decision.hpp"
#include "daemon/report/numbers.hpp"

namespace midstick::report {
namespace {

constexpr double kNaN = std::numeric_limits<double>::quiet_NaN();

judge::Measure measure(double measured, double uncertainty, const char* unit) {
  judge::Measure m;
  m.measured = measured;
  m.uncertainty = uncertainty;
  m.unit = unit;
  return m;
}

TEST(Numbers, FilesKeepWholeNanosecondsWhateverTheUnit) {
  EXPECT_EQ(rounded(1508.0204999, "us"), 1508.02);
  EXPECT_EQ(rounded(20.03120049, "ms"), 20.0312);
  EXPECT_EQ(rounded(0.1234567894, "s"), 0.123456789);
}

TEST(Numbers, NotANumberAndInfinityHaveNoValue) {
  EXPECT_EQ(rounded(kNaN, "us"), std::nullopt);
  EXPECT_EQ(rounded(std::numeric_limits<double>::infinity(), "us"), std::nullopt);
  EXPECT_EQ(plain(kNaN, 3), "none");
  EXPECT_EQ(measured_text(measure(kNaN, 1, "us")), "none");
}

TEST(Numbers, ZeroIsNeverNegative) {
  EXPECT_FALSE(std::signbit(*rounded(-1e-9, "us")));
  EXPECT_EQ(plain(-0.0001, 3), "0");
  EXPECT_EQ(measured_text(measure(-0.0004, 0.1, "us")), "0.00 ± 0.10 µs");
}

TEST(Numbers, MeasuredValueEndsWhereTwoDigitsOfItsUncertaintyEnd) {
  EXPECT_EQ(measured_text(measure(1508.0249, 0.25, "us")), "1508.02 ± 0.25 µs");
  EXPECT_EQ(measured_text(measure(212.44, 20, "ms")), "212 ± 20 ms");
  EXPECT_EQ(measured_text(measure(1508.0249, 0.0003, "us")), "1508.025 ± 0.000 µs");  // below a nanosecond nothing is shown
  EXPECT_EQ(measured_text(measure(3, 0, "count")), "3");
}

TEST(Numbers, ATimeWhoseEndNeverCameIsABoundRoundedDownAndHasNoUncertainty) {
  judge::Measure m = measure(817.9664, 0.0011, "ms");
  judge::never_came(m, "never safe");
  EXPECT_EQ(measured_text(m), "never within 817.9 ms");
}

TEST(Numbers, LimitsReadAsWords) {
  judge::Measure m = measure(0, 0, "us");
  EXPECT_EQ(limit_text(m), "no limit");
  m.limit_high = 1505;
  EXPECT_EQ(limit_text(m), "at most 1505 µs");
  m.limit_low = 1495.5;
  EXPECT_EQ(limit_text(m), "1495.5 to 1505 µs");
  m.limit_high = std::nullopt;
  EXPECT_EQ(limit_text(m), "at least 1495.5 µs");
  m.limit_high = m.limit_low;
  EXPECT_EQ(limit_text(m), "exactly 1495.5 µs");
}

TEST(Numbers, NothingCountedAndNothingAllowedReadAsWords) {
  judge::Measure m = measure(0, 0, "count");
  m.limit_high = 0;
  EXPECT_EQ(measured_text(m), "none seen");
  EXPECT_EQ(limit_text(m), "none allowed");
  m.measured = 2;
  m.limit_high = 3;
  EXPECT_EQ(measured_text(m), "2");
  EXPECT_EQ(limit_text(m), "at most 3");
}

TEST(Numbers, DurationsUseTheUnitAPersonWouldUse) {
  EXPECT_EQ(duration_text(1.234), "1.23 ms");
  EXPECT_EQ(duration_text(820), "820 ms");
  EXPECT_EQ(duration_text(3400), "3.4 s");
  EXPECT_EQ(duration_text(221'000), "3 min 41 s");
  EXPECT_EQ(duration_text(999.7), "1000 ms");
  EXPECT_EQ(duration_text(119'999), "2 min 0 s");
}

}  // namespace
}  // namespace midstick::report
