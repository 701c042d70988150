#include "daemon/report/progress.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "daemon/report/numbers.hpp"

namespace midstick::report {

std::string progress_line(const Progress& progress, const TerminalStyle& style) {
  const bool known = std::isfinite(progress.total_ms) && progress.total_ms > 0 && std::isfinite(progress.done_ms);
  const double fraction = known ? std::clamp(progress.done_ms / progress.total_ms, 0.0, 1.0) : 0.0;
  const double left_ms = known ? std::max(0.0, progress.total_ms - progress.done_ms) : 0.0;
  // Whole seconds only: a line that changes all the time is hard to read.
  const auto seconds = static_cast<long>(std::ceil(left_ms / 1000));
  const auto left = fmt::format("  {}:{:02d} left", seconds / 60, seconds % 60);
  const auto place = fmt::format("  {}/{}  ", progress.number, progress.of);

  constexpr int kLongestBar = 30;
  constexpr int kShortestBar = 5;
  const int room = style.width - columns(place) - columns(left);
  const auto name = shown(progress.check, style);
  const int name_width = std::clamp(columns(name), 0, std::max(0, room - kShortestBar));
  const int bar_width = std::clamp(room - name_width, 0, kLongestBar);
  const int filled = static_cast<int>(std::floor(fraction * bar_width));
  std::string bar;
  for (int i = 0; i < bar_width; ++i) bar += i < filled ? (style.utf8 ? "█" : "#") : (style.utf8 ? "░" : ".");
  const auto line = fit(name, name_width, style) + place + bar + left;
  return columns(line) <= style.width ? line : fit(line, style.width, style);
}

Progress ProgressWords::told(Progress now) {
  if (now.done_ms < last_.done_ms) last_ = {};  // another run begins
  if (!now.check.empty()) {
    last_ = now;
    return now;
  }
  // Who looks in only after the last check has heard of none.
  const bool over = last_.check.empty() ? 2 * now.done_ms > now.total_ms : last_.number == last_.of;
  now.check = over ? "judging" : last_.check.empty() ? "power-up and arming" : last_.check;
  now.number = over ? now.of : last_.number;
  last_.done_ms = now.done_ms;
  return now;
}

}  // namespace midstick::report
