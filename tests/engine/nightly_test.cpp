// When the nightly run is due: once a night in local time, across both clock changes too.
#include "daemon/cli/nightly.hpp"

#include <gtest/gtest.h>
#include <stdlib.h>

namespace midstick::cli {
namespace {

class Nightly : public testing::Test {
 protected:
  void SetUp() override {
    ::setenv("TZ", "CET-1CEST,M3.5.0,M10.5.0/3", 1);  // POSIX rule: no zone files needed
    ::tzset();
  }
  static std::time_t utc(int y, int mon, int d, int h, int min) {
    std::tm t{};
    t.tm_year = y - 1900;
    t.tm_mon = mon - 1;
    t.tm_mday = d;
    t.tm_hour = h;
    t.tm_min = min;
    return ::timegm(&t);
  }
};

TEST_F(Nightly, IsTodayWhenTheTimeIsStillToCome) { EXPECT_EQ(next_night(utc(2026, 1, 10, 0, 0), {2, 30}), utc(2026, 1, 10, 1, 30)); }

TEST_F(Nightly, IsTomorrowWhenTheTimeHasPassedOrIsNow) {
  EXPECT_EQ(next_night(utc(2026, 1, 10, 1, 30), {2, 30}), utc(2026, 1, 11, 1, 30));
  EXPECT_EQ(next_night(utc(2026, 1, 10, 12, 0), {2, 30}), utc(2026, 1, 11, 1, 30));
}

TEST_F(Nightly, RunsOnceANightOverAWholeYear) {
  std::time_t at = utc(2026, 1, 1, 0, 0);
  int runs = 0;
  for (; at < utc(2027, 1, 1, 0, 0); ++runs) {
    const std::time_t next = next_night(at, {2, 30});
    ASSERT_GT(next, at);
    ASSERT_LE(next - at, 26 * 3600) << "a night was left out";
    if (runs > 0) {
      ASSERT_GE(next - at, 22 * 3600) << "twice in one night";
    }
    at = next;
  }
  EXPECT_EQ(runs, 366);  // 365 nights of 2026, and the first of 2027 ends the loop
}

TEST_F(Nightly, OnlyRealTimesAreTimes) {
  EXPECT_TRUE(parse_time_of_day("00:00") && parse_time_of_day("23:59"));
  for (const char* bad : {"24:00", "12:60", "1:30", "12:3x", "-1:30", "", "12:30:00"}) EXPECT_FALSE(parse_time_of_day(bad)) << bad;
}

}  // namespace
}  // namespace midstick::cli
