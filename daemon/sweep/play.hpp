// Plays a sweep on a bench: the probe, then the course at the pace that the probe found. One capture of both.
//
// CAUTION: powers the controller and drives it to full stick; the caller has shown the cautions. Pulses and power are off when it returns,
// whatever happened. Single-threaded; blocks for the board time of both, under three minutes for a controller without slew. The session is
// greeted and its clock settled. Errors as Session, engine::play and pace_of give them; a sweep that was cut short is an error, since half
// a map misleads.
#pragma once

#include <functional>

#include "daemon/capture/capture.hpp"
#include "daemon/engine/session.hpp"
#include "daemon/sweep/course.hpp"

namespace midstick::sweep {

struct Progress {
  bool probing{true};
  double done_ms{0}, total_ms{0};  ///< board time of this part
};

struct PlaySettings {
  Settings settings;
  std::uint64_t seed{1};  ///< of the frames' dither
  std::function<void(const Progress&)> on_progress;
};

/// Indices of the capture's segments.
inline constexpr std::size_t kProbeSegment = 0, kCourseSegment = 1;

Result<capture::Capture> play(engine::Session& session, const script::ControllerDescription& controller, const PlaySettings& how);

}  // namespace midstick::sweep
