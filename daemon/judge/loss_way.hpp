// How an output went from driven to safe, or did not, when the signal was lost; and what a run of such losses is consistent with.
//
// Read from the pulses after the loss, measured from the width before it. Pure functions; the facts behind them are common practice, no
// source.
#pragma once

#include <string>
#include <vector>

#include "daemon/judge/safe.hpp"

namespace midstick::judge {

enum class LossWay {
  safe,         ///< in time, straight
  kick,         ///< in time, but thrown out on the way
  held,         ///< still where it was
  thrown,       ///< driven, to the other side or further out
  ramp,         ///< too slow, by many widths between
  late,         ///< too late, at once
  other_level,  ///< at rest on a width that is neither
  high,         ///< the line stays high
  silent,       ///< no pulses, where the spec does not call that safe
};

/// One output after a loss at `from`, watched until `until`; `watch` is of the same stretch.
LossWay loss_way(const script::Plan& plan, const Traffic& traffic, Side side, BoardTime from, BoardTime until, const SafeWatch& watch,
                 double kick_us);

/// One loss: which inputs were lost and how, and what the outputs did.
struct LossSeen {
  std::string mode;  ///< label of the mode, for reasons
  bool all_inputs;   ///< both, or one alone
  bool stuck_high;   ///< frozen high, not silent
  LossWay side[2];
  double rest_us[2];  ///< width that each output ended on; 0 without pulses
};

/// The causes that these losses fit; none when they fit none.
std::vector<Cause> loss_causes(const std::vector<LossSeen>& all);

}  // namespace midstick::judge
