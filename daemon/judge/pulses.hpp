// The edges of one line read as pulses.
//
// A pulse is a high between a rise and the next fall. What does not fit is kept, never dropped: a fall without its rise (the line began
// high), a rise without its fall (still high at the end), two edges of the same level (one between them is missing). Widths are ticks here;
// `us` turns them into true time. Owns its pulses, plain values, no threads; nothing fails.
#pragma once

#include <optional>
#include <span>
#include <vector>

#include "daemon/capture/capture.hpp"

namespace midstick::judge {

struct Pulse {
  BoardTime rise, fall;
  std::uint16_t rise_half{1}, fall_half{1};  ///< bounds on the two stamps, ticks
  bool crowded{false};                       ///< at least one stamp may be late; the bound says how late

  BoardSpan width() const { return fall - rise; }
};

class PulseTrain {
 public:
  PulseTrain() = default;
  /// Pulses of `line` among `edges`, sorted by time, within [begin, end].
  PulseTrain(std::span<const capture::Edge> edges, std::uint8_t line, BoardTime begin, BoardTime end);

  std::span<const Pulse> all() const { return pulses_; }
  /// Pulses that rise at or after `begin` and fall at or before `end`.
  std::span<const Pulse> within(BoardTime begin, BoardTime end) const;
  /// Pulses that fall after `begin` and at or before `end`.
  std::span<const Pulse> falling_in(BoardTime begin, BoardTime end) const;
  /// The last pulse that fell at or before `t`; null when none did.
  const Pulse* last_fallen(BoardTime t) const;
  /// Is the line high at `t`?
  bool high_at(BoardTime t) const;

  /// Since when the line has been high at the end of the stretch; nothing when it ended low.
  std::optional<BoardTime> open_rise() const { return open_rise_; }
  /// The stretch began inside a pulse: its fall was seen, its rise was not.
  bool began_high() const { return began_high_; }
  /// Edges that repeat the level before: another edge is missing there.
  int broken() const { return broken_; }

 private:
  std::vector<Pulse> pulses_;
  std::optional<BoardTime> open_rise_;
  bool began_high_{false};
  int broken_{0};
};

/// Edges of a sorted list within [begin, end].
std::span<const capture::Edge> edges_within(const std::vector<capture::Edge>& edges, BoardTime begin, BoardTime end);

}  // namespace midstick::judge
