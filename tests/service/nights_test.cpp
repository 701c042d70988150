// Nights against the published clock changes of the European Union (Directive 2000/84/EC: last Sundays of March and October at 01:00 UTC)
// and of the United States (Energy Policy Act of 2005: second Sunday of March, first of November, at 02:00 local time).
#include "daemon/service/nights.hpp"

#include <gtest/gtest.h>

#include <map>
#include <set>

namespace midstick::service {
namespace {

constexpr std::int64_t kMinute = 60'000, kHour = 60 * kMinute, kDay = 24 * kHour;
constexpr std::int64_t k2026 = 1'767'225'600'000;  // 2026-01-01T00:00:00Z; `date -u -d 2026-01-01 +%s`

std::int64_t utc(int days_into_year, int hour, int minute = 0) { return k2026 + days_into_year * kDay + hour * kHour + minute * kMinute; }

/// Every night of 2026 as one who looks every minute sees it: the date and the first minute at which it was due.
std::map<std::string, std::int64_t> nights_seen(LocalTime at, const std::string& zone) {
  std::map<std::string, std::int64_t> seen;
  for (std::int64_t now = k2026 - kDay; now < k2026 + 366 * kDay; now += 7 * kMinute) {
    const auto nights = nights_around(now, at, zone);
    EXPECT_TRUE(nights.ok());
    seen.emplace(nights->last.date, nights->last.due_ms);
  }
  return seen;
}

TEST(Nights, ATimeTheClockJumpsOverIsDueAtTheJump) {
  // 2026-03-29 is day 87 (from 0): Berlin jumps from 02:00 to 03:00 at 01:00 UTC.
  const auto nights = nights_around(utc(87, 12), {2, 30}, "Europe/Berlin");
  ASSERT_TRUE(nights.ok());
  EXPECT_EQ(nights->last.date, "2026-03-29");
  EXPECT_EQ(nights->last.due_ms, utc(87, 1));
  EXPECT_EQ(nights->next.date, "2026-03-30");
  EXPECT_EQ(nights->next.due_ms, utc(88, 0, 30));
}

TEST(Nights, ATimeThatComesTwiceIsDueTheFirstTime) {
  // 2026-10-25 is day 297: 03:00 CEST becomes 02:00 CET at 01:00 UTC, so 02:30 is at 00:30 and at 01:30 UTC.
  for (const auto now : {utc(297, 0, 31), utc(297, 1, 31), utc(297, 12)}) {
    const auto nights = nights_around(now, {2, 30}, "Europe/Berlin");
    ASSERT_TRUE(nights.ok());
    EXPECT_EQ(nights->last.date, "2026-10-25");
    EXPECT_EQ(nights->last.due_ms, utc(297, 0, 30));
    EXPECT_EQ(nights->next.due_ms, utc(298, 1, 30));
  }
}

TEST(Nights, TheUnitedStatesChangeOnTheirOwnDays) {
  // 2026-03-08 is day 66: New York jumps at 07:00 UTC. 2026-11-01 is day 304: 01:30 comes at 05:30 and 06:30 UTC.
  EXPECT_EQ(nights_around(utc(66, 12), {2, 30}, "America/New_York")->last.due_ms, utc(66, 7));
  EXPECT_EQ(nights_around(utc(304, 12), {1, 30}, "America/New_York")->last.due_ms, utc(304, 5, 30));
}

class EveryNight : public ::testing::TestWithParam<std::pair<const char*, LocalTime>> {};

TEST_P(EveryNight, OfAYearIsDueOnceAndNeverMovesOnceSeen) {
  const auto [zone, at] = GetParam();
  const auto seen = nights_seen(at, zone);
  std::set<std::int64_t> instants;
  for (const auto& [date, due] : seen) instants.insert(due);
  EXPECT_EQ(instants.size(), seen.size()) << "two nights at one instant";
  int of_2026 = 0;
  for (const auto& [date, due] : seen) of_2026 += date.starts_with("2026-");
  EXPECT_EQ(of_2026, 365);
  for (auto a = seen.begin(), b = std::next(a); b != seen.end(); ++a, ++b) {
    EXPECT_GE(b->second - a->second, 22 * kHour) << a->first;
    EXPECT_LE(b->second - a->second, 26 * kHour) << a->first;
  }
}

INSTANTIATE_TEST_SUITE_P(Zones, EveryNight,
                         ::testing::Values(std::pair("Europe/Berlin", LocalTime{2, 30}), std::pair("Europe/Berlin", LocalTime{2, 0}),
                                           std::pair("Europe/Berlin", LocalTime{3, 0}), std::pair("America/New_York", LocalTime{1, 30}),
                                           std::pair("Australia/Lord_Howe", LocalTime{1, 45}), std::pair("Etc/UTC", LocalTime{0, 0}),
                                           std::pair("America/Havana", LocalTime{0, 15})));

TEST(Nights, AnUnknownZoneIsSaid) {
  const auto nights = nights_around(k2026, {2, 30}, "Europe/Atlantis");
  ASSERT_FALSE(nights.ok());
  EXPECT_NE(nights.error().message.find("Europe/Atlantis"), std::string::npos);
}

TEST(LocalTimeText, ReadsBackAsItIsWritten) {
  for (const char* text : {"00:00", "02:30", "23:59"}) EXPECT_EQ(local_time_text(*parse_local_time(text)), text);
}

TEST(LocalTimeText, TakesHoursAndMinutesOnly) {
  EXPECT_EQ(parse_local_time("23:59")->minute, 59);
  for (const char* wrong : {"24:00", "2:30", "02:60", "02-30", "", "02:3a", "002:30"}) EXPECT_FALSE(parse_local_time(wrong)) << wrong;
}

}  // namespace
}  // namespace midstick::service
