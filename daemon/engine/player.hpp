// Plays a programme on a bench and brings home the capture.
//
// Converts true time to board ticks with the clock map known at the start, hands stimulus to the link (which holds it back by credits),
// asks for power and reset actions when they are near, samples the clock throughout, and ends with pulses low and power off, whatever
// happened. Single-threaded; blocks for the length of the programme (virtual time on a virtual bench). A run that was cut short returns a
// capture with complete == false and the reason.
#pragma once

#include <functional>

#include "daemon/capture/capture.hpp"
#include "daemon/core/result.hpp"
#include "daemon/engine/programme.hpp"
#include "daemon/engine/session.hpp"
#include "daemon/script/controller.hpp"

namespace midstick::engine {

struct PlayProgress {
  std::size_t segment{0};  ///< index into Programme::segments; segments.size() during the lead-in
  ScriptSpan done{}, total{};
};

struct PlayOutcome {
  capture::Capture capture;
  std::optional<Error> cut_short;  ///< why the run ended early
};

/// The board goes safe by itself when it hears nothing for this long.
inline constexpr std::uint16_t kRefreshMs = 500;

PlayOutcome play(Session& session, const Programme& programme, const script::ControllerDescription& controller,
                 const std::function<void(const PlayProgress&)>& on_progress);

}  // namespace midstick::engine
