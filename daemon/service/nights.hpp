// When a nightly run is due, in local time, once a night, across clock changes.
//
// A night is named by its local date: "2026-03-29". Rules: a time that the clock jumps over (spring) is due at the jump; a time that comes
// twice (autumn) is due the first time. So every date has exactly one instant. Zones and their rules come from the system's time zone
// database, read by the date library; they are looked up once and kept. Pure but for that; safe to call from several threads.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

#include "daemon/core/result.hpp"

namespace midstick::service {

struct LocalTime {
  int hour{0}, minute{0};
};

/// "02:30"; nothing when it is not 00:00 to 23:59.
std::optional<LocalTime> parse_local_time(std::string_view text);
std::string local_time_text(LocalTime at);

struct Night {
  std::string date;        ///< local, "2026-03-29"
  std::int64_t due_ms{0};  ///< Unix time, ms
};

/// The night that is due last at or before `now_ms` (Unix time, ms), and the one after it. `zone`: IANA name.
/// Error{usage} when the zone is not known.
struct Nights {
  Night last, next;
};
Result<Nights> nights_around(std::int64_t now_ms, LocalTime at, const std::string& zone);

/// The computer's own zone, "Etc/UTC" when it cannot be told.
std::string own_zone();
bool known_zone(const std::string& zone);

}  // namespace midstick::service
