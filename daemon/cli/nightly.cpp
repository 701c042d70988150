#include "daemon/cli/nightly.hpp"

#include <charconv>

namespace midstick::cli {

std::optional<TimeOfDay> parse_time_of_day(std::string_view text) {
  if (text.size() != 5 || text[2] != ':') return std::nullopt;
  TimeOfDay t;
  const auto number = [](std::string_view digits, int& value) {
    const auto r = std::from_chars(digits.data(), digits.data() + digits.size(), value);
    return r.ec == std::errc{} && r.ptr == digits.data() + digits.size();
  };
  if (!number(text.substr(0, 2), t.hour) || !number(text.substr(3, 2), t.minute)) return std::nullopt;
  if (t.hour < 0 || t.hour > 23 || t.minute < 0 || t.minute > 59) return std::nullopt;
  return t;
}

std::time_t next_night(std::time_t now, TimeOfDay at) {
  std::tm day{};
  ::localtime_r(&now, &day);
  for (int ahead = 0;; ++ahead) {
    std::tm due = day;
    due.tm_mday += ahead;
    due.tm_hour = at.hour;
    due.tm_min = at.minute;
    due.tm_sec = 0;
    due.tm_isdst = -1;  // the calendar decides
    const std::time_t instant = std::mktime(&due);
    if (instant > now) return instant;
  }
}

}  // namespace midstick::cli
