#include "daemon/clock/host_clock.hpp"

#include <gtest/gtest.h>

namespace midstick::clock {
namespace {

TEST(HostClock, RatioIsPositiveWhenTheDisciplinedClockIsFaster) {
  const HostReading first{1'000, 500}, last{1'000 + 2'000'000'000, 500 + 2'000'034'000};
  ASSERT_TRUE(disciplined_ppm(first, last));
  EXPECT_NEAR(*disciplined_ppm(first, last), 17, 1e-6);
}

TEST(HostClock, LessThanASecondSaysNothingOfTheRatio) { EXPECT_FALSE(disciplined_ppm({0, 0}, {999'999'999, 999'999'999})); }

TEST(HostClock, ReadingLiesBetweenRawReadingsAroundIt) {
  const auto before = raw_now_ns();
  const auto reading = read_host_clocks();
  EXPECT_LE(before, reading.raw_ns);
  EXPECT_LE(reading.raw_ns, raw_now_ns());
  EXPECT_GT(reading.disciplined_ns, 0);
}

TEST(HostClock, KernelsAnswerHasAName) { EXPECT_NE(std::string("yes no unknown").find(name(host_synchronised())), std::string::npos); }

}  // namespace
}  // namespace midstick::clock
