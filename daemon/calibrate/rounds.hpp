// The rounds of a calibration, played on a bench: each stimulus line looped to all captures, then a pulse source on all captures.
//
// Six loop rounds of about 2 s and one source round of about 30 s. Nothing is powered. Single-threaded; blocks. Errors: as the session and
// the player give them; stopped.
#pragma once

#include <optional>
#include <vector>

#include "daemon/calibrate/jumpers.hpp"
#include "daemon/capture/capture.hpp"
#include "daemon/engine/session.hpp"

namespace midstick::calibrate {

inline constexpr int kLoopPulses = 80;
inline constexpr double kSourceSeconds = 30;

struct Rounds {
  std::vector<capture::Capture> loops;     ///< by stimulus line
  std::optional<capture::Capture> source;  ///< all stimulus lines play beside it, unconnected, so that the board is as busy as at work
};

/// The session is greeted and its clock settled.
Result<Rounds> play_rounds(engine::Session& session, Jumpers& jumpers);

}  // namespace midstick::calibrate
