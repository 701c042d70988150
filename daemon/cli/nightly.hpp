// When the nightly run is due, in local time.
//
// Pure. Across a clock change the C library's calendar decides: a time that does not exist that night is taken one hour later, one that
// exists twice, once.
#pragma once

#include <ctime>
#include <optional>
#include <string_view>

namespace midstick::cli {

struct TimeOfDay {
  int hour{0}, minute{0};
};

/// "02:30"; nothing when it is not 00:00 to 23:59.
std::optional<TimeOfDay> parse_time_of_day(std::string_view text);

/// First instant after `now` at which the local clock shows `at`.
std::time_t next_night(std::time_t now, TimeOfDay at);

}  // namespace midstick::cli
