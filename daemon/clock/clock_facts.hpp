// What a run keeps about its clock beside the map: how the map came about, for the reader of a report. Nothing is computed from it.
//
// Plain values. ppm as ClockMap::ppm(): > 0, the board runs fast.
#pragma once

#include <optional>

#include "daemon/clock/host_clock.hpp"

namespace midstick::clock {

enum class ClockState {
  acquiring,  ///< not yet good enough to begin a run
  locked,     ///< uncertainty at or under target
  suspect,    ///< bounds contradicted each other; not locked again since
  lost        ///< nothing heard for too long
};
/// "locked"
const char* name(ClockState state);

struct ClockFacts {
  ClockState state{ClockState::acquiring};   ///< at the end
  double hard_low_ppm{0}, hard_high_ppm{0};  ///< certain bounds for the rate at every instant of the run (estimator.hpp)
  std::optional<double> cross_check_ppm;     ///< difference of the two methods, last 30 s
  int contradictions{0};
  HostClock host;
};

}  // namespace midstick::clock
