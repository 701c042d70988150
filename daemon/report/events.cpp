#include "daemon/report/events.hpp"

#include <algorithm>

namespace midstick::report {

const char* event_name(capture::EventKind kind) {
  switch (kind) {
    case capture::EventKind::power_on:
      return "power_on";
    case capture::EventKind::power_off:
      return "power_off";
    case capture::EventKind::reset_asserted:
      return "reset_asserted";
    case capture::EventKind::reset_released:
      return "reset_released";
    case capture::EventKind::stop_loop_open:
      return "stop_loop_open";
    case capture::EventKind::stop_loop_closed:
      return "stop_loop_closed";
    case capture::EventKind::board_fault:
      return "board_fault";
    case capture::EventKind::board_restart:
      return "board_restart";
    case capture::EventKind::edges_lost:
      return "edges_lost";
    case capture::EventKind::unseen_runt:
      return "unseen_runt";
    case capture::EventKind::supply:
      return "supply";
  }
  return "unknown";
}

const char* event_words(capture::EventKind kind) {
  switch (kind) {
    case capture::EventKind::power_on:
      return "controller power on";
    case capture::EventKind::power_off:
      return "controller power off";
    case capture::EventKind::reset_asserted:
      return "controller held in reset";
    case capture::EventKind::reset_released:
      return "controller released from reset";
    case capture::EventKind::stop_loop_open:
      return "stop loop open";
    case capture::EventKind::stop_loop_closed:
      return "stop loop closed";
    case capture::EventKind::board_fault:
      return "bench board fault";
    case capture::EventKind::board_restart:
      return "bench board restarted";
    case capture::EventKind::edges_lost:
      return "edges lost";
    case capture::EventKind::unseen_runt:
      return "pulse too short to time";
    case capture::EventKind::supply:
      return "supply voltage";
  }
  return "unknown";
}

bool is_trouble(capture::EventKind kind) {
  switch (kind) {
    case capture::EventKind::stop_loop_open:
    case capture::EventKind::board_fault:
    case capture::EventKind::board_restart:
    case capture::EventKind::edges_lost:
    case capture::EventKind::unseen_runt:
      return true;
    default:
      return false;
  }
}

std::optional<SupplyRange> supply_range(const capture::Capture& capture) {
  std::optional<SupplyRange> range;
  for (const auto& e : capture.events) {
    if (e.kind != capture::EventKind::supply) continue;
    if (!range) range = SupplyRange{e.value, e.value, 0};
    range->low_mv = std::min(range->low_mv, e.value);
    range->high_mv = std::max(range->high_mv, e.value);
    ++range->samples;
  }
  return range;
}

}  // namespace midstick::report
