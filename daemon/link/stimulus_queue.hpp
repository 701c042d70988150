// Stimulus edges that wait for a place in the board's queues.
//
// Credits are the board's word as of one ack, less the edges in flight since: they can be too low, never too high, so the board's queue
// is never overrun. Edges leave strictly in the order given; a line without credit holds the rest. Edges further ahead than the board takes
// wait as well. Board ticks; no threads; cannot fail.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <deque>
#include <optional>
#include <span>
#include <vector>

#include "daemon/link/command_window.hpp"
#include "daemon/link/link_event.hpp"

namespace midstick::link {

class StimulusQueue {
 public:
  static constexpr std::size_t kEdgesPerFrame = 32;

  void clear();
  void add(std::span<const StimulusEdge> edges);
  std::size_t size() const { return waiting_.size(); }
  /// What the board reported.
  void set_credits(const protocol::LineCredits& credits) { credits_ = credits; }
  /// Edges of `line` that may still be sent, given what is in flight.
  int free_places(std::uint8_t line, const std::deque<SentCommand>& in_flight) const;
  /// How many edges from the front may go into one frame now. `board_now` nothing: not known, no limit ahead.
  std::size_t sendable(const std::deque<SentCommand>& in_flight, std::optional<BoardTime> board_now, BoardSpan longest_ahead) const;
  /// Remove and return the first `count` edges.
  std::vector<StimulusEdge> take(std::size_t count);
  std::optional<BoardTime> first_at() const;

 private:
  std::deque<StimulusEdge> waiting_;
  protocol::LineCredits credits_{};
};

/// A stimulus frame holding `edges` (at most StimulusQueue::kEdgesPerFrame).
SentCommand stimulus_command(std::uint8_t seq, std::span<const StimulusEdge> edges);

}  // namespace midstick::link
