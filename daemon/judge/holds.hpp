// Stretches of the executed stimulus in which both sticks rest: what settled outputs are compared with.
//
// Read from the pulses that the board really sent, not from the plan. A stretch begins at the fall of the first pulse with the new width
// (only then can a controller know it) and ends at the fall of the first pulse that differs, or with the last pulse before silence.
#pragma once

#include <vector>

#include "daemon/judge/check.hpp"
#include "daemon/judge/traffic.hpp"

namespace midstick::judge {

struct Hold {
  BoardTime begin, end;
  double throttle_us{0}, steering_us{0};  ///< middle of the widths seen
  double half_us{0};                      ///< half of their spread, the larger of the two inputs
};

/// `still_us`: two widths this close are the same stick position. Silence of over 60 ms (slower than any receiver frame) ends a hold.
std::vector<Hold> holds(const Traffic& traffic, double still_us);

/// Time that a slewed machine needs to reach each hold, ms; 0 where the spec has no slew. In a script of the plan's own: the longest there
/// is, since the machine may not have reached the hold before either.
std::vector<double> slewing_ms(const Context& c, const Traffic& traffic, const std::vector<Hold>& holds);

/// The `still_us` that suits the plan's receiver: its jitter both ways and 1 us.
double still_us(const script::Plan& plan, const script::PlannedCheck& check);

}  // namespace midstick::judge
