// The board's clock against a reference of one pulse a second (a receiver of satellite time, a bench standard) on a capture line.
//
// The host's quartz is what the bench measures with; only a reference can say how far off it is. Rises that stand whole seconds apart, to 1
// % and across at most ten missing ones, are counted; the others are strays. A line through them gives the board's rate. U (95 %) is three
// standard errors plus what the stamps at both ends may be off. Nothing is known about the reference itself: its error comes on top.
// Pure, no threads, cannot fail. Sign as ClockMap::ppm(): > 0, the board runs fast.
#pragma once

#include <cstdint>
#include <optional>
#include <span>

#include "daemon/core/time.hpp"

namespace midstick::clock {

struct ReferenceFinding {
  double board_ppm{0};
  double uncertainty_ppm{0};
  int pulses{0};   ///< counted
  int seconds{0};  ///< from the first to the last of them
  int missing{0};  ///< seconds in between that had none
  int strays{0};   ///< rises that are not the reference's
};

/// `rises` in order of time, each stamped within +- `half_width` ticks. Nothing below five pulses of the reference.
std::optional<ReferenceFinding> against_reference(std::span<const BoardTime> rises, double half_width);

}  // namespace midstick::clock
