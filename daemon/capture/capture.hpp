// What a run leaves behind, complete before judging: a run is data.
//
// Everything is on the board's clock; `clock` turns ticks into true microseconds. Edge lists are sorted by time (ties keep
// the order of arrival). Plain values: whoever holds the Capture owns all of it; no threads; nothing here fails.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "daemon/capture/calibration.hpp"
#include "daemon/clock/clock_facts.hpp"
#include "daemon/clock/clock_map.hpp"
#include "daemon/core/time.hpp"

namespace midstick::capture {

/// A level change on one line, at the board's pin.
struct Edge {
  BoardTime at;                 ///< best estimate
  std::uint8_t line{0};         ///< stimulus: 0..5 (S1..S6); response: 0,1 (R1,R2: input capture), 2..7 (P1..P6: pin change)
  bool level{false};            ///< level after the edge
  std::uint16_t half_width{1};  ///< bound in ticks: the true edge lies within `at` +- half_width
  bool crowded{false};          ///< another edge was so near that the stamp may be late; the bound says how late
  friend bool operator==(const Edge&, const Edge&) = default;
};

enum class EventKind : std::uint8_t {
  power_on,
  power_off,
  reset_asserted,
  reset_released,
  stop_loop_open,
  stop_loop_closed,
  board_fault,    ///< value: numbered fault reason of the protocol
  board_restart,  ///< value: new boot id; everything after is another clock
  edges_lost,     ///< value: how many board frames or edges are missing; spans [since, at]
  unseen_runt,    ///< a pin-change input moved and moved back before it could be read; value: line, 255 unknown
  supply          ///< value: millivolts
};

struct Event {
  BoardTime at;
  EventKind kind{};
  std::int64_t value{0};
  BoardTime since{};  ///< start of the span it speaks of; equal to `at` for an instant
  std::string text;   ///< readable form
  friend bool operator==(const Event&, const Event&) = default;
};

/// A named instant inside a segment, put there by the script that drove it.
/// The judge reads them; `values` is what the label's contract in judge/ says (for instance stick positions in percent).
struct Mark {
  BoardTime at;
  std::string label;
  std::vector<double> values;
};

/// The stretch of the run that belongs to one check of the plan.
struct Segment {
  int check{0};   ///< index into the plan's checks
  int repeat{0};  ///< 0-based repeat
  BoardTime begin, end;
  std::vector<Mark> marks;
};

struct Identity {
  std::string board;  ///< "midstick board 1.0, boot 7"
  std::uint32_t boot_id{0};
  std::string firmware;          ///< version of the board's firmware
  std::string schema_hash;       ///< of the wire, 8 hex digits
  std::string controller;        ///< name from the controller description
  std::string controller_image;  ///< SHA-less short fingerprint (FNV-1a 64, hex) of the image, empty on a real controller
  std::string bench_address;
};

struct Capture {
  Identity identity;
  clock::ClockMap clock;
  std::optional<clock::ClockFacts> clock_facts;  ///< how the map came about; nothing in captures older than that
  BoardTime begin, end;
  bool complete{false};  ///< false: the run was cut short; no check may pass on it
  std::string incomplete_reason;
  std::vector<Edge> stimulus;  ///< executed stimulus
  std::vector<Edge> response;
  std::vector<Event> events;
  std::vector<Segment> segments;
  std::optional<Calibration> calibration;  ///< the stamps above are corrected by it; nothing: they are as the board gave them
  std::string calibration_note;            ///< why there is none although one was at hand; empty: none was
};

}  // namespace midstick::capture
