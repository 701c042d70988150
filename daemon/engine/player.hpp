// Plays a programme on a bench and brings home the capture.
//
// Converts true time to board ticks with the clock map known at the start, hands stimulus to the link (which holds it back by credits),
// asks for power and reset actions when they are near, samples the clock throughout, and ends with pulses low and power off, whatever
// happened. Single-threaded; blocks for the length of the programme (virtual time on a virtual bench). A run that was cut short returns a
// capture with complete == false and the reason.
#pragma once

#include <functional>
#include <span>

#include "daemon/capture/capture.hpp"
#include "daemon/core/result.hpp"
#include "daemon/engine/programme.hpp"
#include "daemon/engine/session.hpp"
#include "daemon/script/controller.hpp"

namespace midstick::engine {

/// What has come and gone on the lines so far, for whoever watches. Borrowed: valid during the call only.
struct Glimpse {
  BoardTime zero, now;                           ///< the programme's start; the board's word on its time
  std::span<const link::StimulusEdge> stimulus;  ///< the whole of it, played up to `now`
  std::span<const capture::Edge> response;       ///< as it came in
  const clock::ClockMap& clock;
};

struct PlayProgress {
  std::size_t segment{0};  ///< index into Programme::segments; segments.size() during the lead-in
  ScriptSpan done{}, total{};
  const Glimpse& glimpse;
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
