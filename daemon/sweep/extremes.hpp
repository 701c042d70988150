// The shortest and the longest width that an output gave anywhere in a sweep.
//
// Of many readings the one furthest out is the one whose scatter happened to reach furthest, so its own mean is biased outwards. Here the
// first third of a reading's pulses picks it and the rest, which knows nothing of the choice, measures it. Pure.
#pragma once

#include <optional>
#include <span>

#include "daemon/sweep/readings.hpp"
#include "daemon/sweep/side_fit.hpp"

namespace midstick::sweep {

struct Extremes {
  Value low, high;  ///< us; U (95 %) without what the controller's own rounding hides
};

/// `levels`: of one output. Nothing when none of them settled, or none has the three pulses that picking and measuring take.
std::optional<Extremes> extremes(std::span<const Level> levels);

}  // namespace midstick::sweep
