// What the link tells the engine, in host types: ticks already widened, edges already with their error bounds.
//
// Plain values, owned by whoever took them from Link::next_event(). Board ticks throughout unless a name says otherwise.
#pragma once

#include <array>
#include <cstdint>
#include <string>
#include <variant>
#include <vector>

#include "daemon/capture/capture.hpp"
#include "daemon/clock/clock_sample.hpp"
#include "daemon/core/result.hpp"
#include "daemon/core/time.hpp"
#include "protocol/messages.hpp"

namespace midstick::link {

/// An edge to make. Lines 0..5 (S1..S6).
struct StimulusEdge {
  BoardTime at;
  std::uint8_t line{0};
  bool level{false};
  friend bool operator==(const StimulusEdge&, const StimulusEdge&) = default;
};

/// The board answered, and speaks our wire. Commands may be given from now on.
struct Greeted {
  protocol::Hello hello{};
};
struct ClockSampled {
  clock::ClockSample sample;
};
/// Response edges in the order the board read them; a stamp may be a little older than the one before.
struct EdgesArrived {
  std::vector<capture::Edge> edges;
};
struct BoardEvent {
  BoardTime at;
  protocol::EventCode code{};
  std::uint16_t value{0};  ///< as the code says (PROTOCOL.md)
};
struct BoardStatus {
  BoardTime now;
  protocol::BoardMode mode{};
  protocol::Fault fault{};
  std::uint16_t supply_mv{0};
  std::uint32_t edges_total{0};    ///< response edges sent since start
  std::uint32_t stimulus_done{0};  ///< stimulus edges carried out since start
  std::uint16_t edges_dropped{0};
  std::uint16_t bad_frames{0};  ///< damaged frames the board saw from us
  std::uint16_t late{0};
  std::uint8_t levels{0};  ///< response lines, bit n = line n
  bool power_on{false}, reset_held{false}, stop_loop_open{false};
};
/// The board did not carry out a command.
struct Refused {
  protocol::Refusal reason{};
  std::string command;  ///< the command as text, as far as it is still known
};
/// Frames or edges of the board are missing: nothing between `since` and `until` can be taken as complete.
struct Lost {
  int frames{0};          ///< from the gap in sequence numbers, 0 when only the edge count tells
  std::int64_t edges{0};  ///< missing edges by the board's own count, 0 when unknown
  BoardTime since, until;
};
/// The board booted again: its old clock is gone. The link fails right after.
struct Restarted {
  std::uint32_t old_boot{0}, new_boot{0};
};
/// The link is dead; no event follows.
struct Failed {
  Error error;
};

using LinkEvent = std::variant<Greeted, ClockSampled, EdgesArrived, BoardEvent, BoardStatus, Refused, Lost, Restarted, Failed>;

}  // namespace midstick::link
