#include "daemon/capture/calibration.hpp"

#include <algorithm>
#include <chrono>
#include <cmath>
#include <cstdio>
#include <optional>

#include "daemon/capture/capture.hpp"

namespace midstick::capture {
namespace {

using std::chrono::sys_days;

/// The day of "2026-11-25T07:00:00Z"; nothing when there is none.
std::optional<sys_days> day_of(const std::string& iso) {
  int year = 0;
  unsigned month = 0, day = 0;
  if (std::sscanf(iso.c_str(), "%4d-%2u-%2u", &year, &month, &day) != 3) return std::nullopt;
  const std::chrono::year_month_day date{std::chrono::year{year}, std::chrono::month{month}, std::chrono::day{day}};
  if (!date.ok()) return std::nullopt;
  return sys_days{date};
}

std::string text_of(sys_days day) {
  const std::chrono::year_month_day date{day};
  char text[32];
  std::snprintf(text, sizeof text, "%04d-%02u-%02u", static_cast<int>(date.year()), static_cast<unsigned>(date.month()),
                static_cast<unsigned>(date.day()));
  return text;
}

BoardSpan whole_ticks(double late) { return {std::llround(late)}; }

}  // namespace

std::string valid_until(const Calibration& calibration) {
  const auto day = day_of(calibration.date);
  return day ? text_of(*day + std::chrono::days{calibration.valid_days}) : "";
}

std::string why_not(const Calibration& c, const Identity& identity, const std::string& board, const std::string& now) {
  if (c.board != board) return "it is of board \"" + c.board + "\", and this is \"" + board + "\"";
  if (c.firmware != identity.firmware || c.schema_hash != identity.schema_hash)
    return "it was made with firmware " + c.firmware + " (wire " + c.schema_hash + "), and the board has " + identity.firmware + " (wire " +
           identity.schema_hash + ")";
  const auto made = day_of(c.date), today = day_of(now);
  if (!made || !today) return "its date \"" + c.date + "\" cannot be compared with today";
  if (*today < *made) return "it is from " + text_of(*made) + ", which is still to come: one of the clocks is wrong";
  if (*today > *made + std::chrono::days{c.valid_days}) return "it was valid until " + valid_until(c);
  return "";
}

void apply(const Calibration& calibration, Capture& capture) {
  for (Edge& e : capture.stimulus)
    if (e.line < calibration.stimulus_late.size()) e.at = e.at + whole_ticks(calibration.stimulus_late[e.line]);
  for (Edge& e : capture.response)
    if (e.line < calibration.response_late.size()) e.at = e.at - whole_ticks(calibration.response_late[e.line]);
  // Lines may be moved by different amounts; the order of arrival goes on breaking ties.
  for (auto* edges : {&capture.stimulus, &capture.response}) std::ranges::stable_sort(*edges, {}, &Edge::at);
  capture.calibration = calibration;
}

}  // namespace midstick::capture
