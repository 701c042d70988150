// Board events in words, and the supply readings summed up. Pure; no failure.
#pragma once

#include <cstdint>
#include <optional>

#include "daemon/capture/capture.hpp"

namespace midstick::report {

/// Name used in files: "power_on", "edges_lost".
const char* event_name(capture::EventKind kind);
/// Name for people: "controller power on", "edges lost".
const char* event_words(capture::EventKind kind);
/// True for events that take trust away from the data: losses, faults, restarts, an open stop loop.
bool is_trouble(capture::EventKind kind);

struct SupplyRange {
  std::int64_t low_mv{0}, high_mv{0};
  std::int64_t samples{0};
};
/// Lowest and highest supply reading, mV; nothing when the board never read it.
std::optional<SupplyRange> supply_range(const capture::Capture& capture);

}  // namespace midstick::report
