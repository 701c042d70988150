#include "daemon/service/nights.hpp"

#include <date/tz.h>

#include <chrono>
#include <cstdio>

namespace midstick::service {
namespace {

using namespace std::chrono;

const date::time_zone* find(const std::string& zone) {
  try {
    return date::locate_zone(zone);
  } catch (const std::exception&) {
    return nullptr;
  }
}

Night night_of(date::local_days day, LocalTime at, const date::time_zone& zone) {
  const date::local_time<seconds> local = day + hours(at.hour) + minutes(at.minute);
  // choose::earliest: the first of two; and for a time that does not exist, the instant of the jump.
  const auto due = zone.to_sys(local, date::choose::earliest);
  return {date::format("%F", day), duration_cast<milliseconds>(due.time_since_epoch()).count()};
}

}  // namespace

std::optional<LocalTime> parse_local_time(std::string_view text) {
  if (text.size() != 5 || text[2] != ':') return std::nullopt;
  for (const std::size_t i : {0u, 1u, 3u, 4u})
    if (text[i] < '0' || text[i] > '9') return std::nullopt;
  const LocalTime t{(text[0] - '0') * 10 + text[1] - '0', (text[3] - '0') * 10 + text[4] - '0'};
  if (t.hour > 23 || t.minute > 59) return std::nullopt;
  return t;
}

std::string local_time_text(LocalTime at) {
  char text[8];
  std::snprintf(text, sizeof text, "%02d:%02d", at.hour, at.minute);
  return text;
}

Result<Nights> nights_around(std::int64_t now_ms, LocalTime at, const std::string& name) {
  const date::time_zone* zone = find(name);
  if (!zone) return Error{ErrorKind::usage, "time zone \"" + name + "\" is not known; expected an IANA name such as Europe/Berlin"};
  const date::sys_time<milliseconds> now{milliseconds(now_ms)};
  // A zone may skip or repeat more than a day (islands that changed sides of the date line): three days each way hold both nights.
  auto day = date::floor<date::days>(zone->to_local(now)) - date::days(3);
  Nights out;
  for (int i = 0; i < 7; ++i, day += date::days(1)) {
    const Night night = night_of(day, at, *zone);
    if (night.due_ms <= now_ms) {
      out.last = night;
    } else {
      out.next = night;
      break;
    }
  }
  return out;
}

std::string own_zone() {
  try {
    return date::current_zone()->name();
  } catch (const std::exception&) {
    return "Etc/UTC";
  }
}

bool known_zone(const std::string& zone) { return find(zone) != nullptr; }

}  // namespace midstick::service
