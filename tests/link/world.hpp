// One default world for link tests: a Link, a ModelBoard and a serial wire between them, in virtual time from a seed.
//
// Bytes take 20 us each and may wait for a USB slot; each may be flipped, dropped or doubled, each whole write doubled. Tests override a
// few named numbers. Nothing sleeps. Time is true ns from 0.
#pragma once

#include <algorithm>
#include <cstdint>
#include <deque>
#include <random>
#include <vector>

#include "daemon/link/link.hpp"
#include "tests/link/model_board.hpp"

namespace midstick::link::test {

struct WireOptions {
  unsigned seed{1};
  double flip{0}, drop{0}, twice{0};  // per byte
  double write_twice{0};              // per write of either side
  std::int64_t slot_ns{0};            // bytes arrive at multiples of this (USB: 1 ms)
  std::int64_t delay_ns{50'000};
};

class World {
 public:
  explicit World(WireOptions wire = {}, BoardOptions board_options = {}, LinkSettings settings = {})
      : link(settings), board(board_options, 0), options(wire), random_(wire.seed) {
    link.open({0});
  }

  /// Run until `done()` or `limit_ns` of virtual time have passed; true when done.
  template <class Done>
  bool run(std::int64_t limit_ns, Done done) {
    const std::int64_t end = now + limit_ns;
    while (now < end) {
      exchange();
      if (done()) return true;
      step(end);
    }
    exchange();
    return done();
  }
  void run(std::int64_t limit_ns) {
    run(limit_ns, [] { return false; });
  }
  bool greet() {
    return run(6'000'000'000, [&] { return link.ready() || link.failed(); }) && link.ready();
  }
  template <class Event>
  std::vector<Event> of() const {
    std::vector<Event> found;
    for (const auto& event : events)
      if (const auto* match = std::get_if<Event>(&event)) found.push_back(*match);
    return found;
  }

  Link link;
  ModelBoard board;
  WireOptions options;
  std::int64_t now{0};
  bool host_asleep{false}, unplugged{false};
  std::vector<LinkEvent> events;

 private:
  struct Flying {
    std::int64_t at;
    std::uint8_t byte;
  };

  bool chance(double probability) { return probability > 0 && std::uniform_real_distribution<>(0, 1)(random_) < probability; }

  void transmit(std::vector<std::uint8_t> bytes, std::deque<Flying>& wire, std::int64_t& free_at) {
    if (bytes.empty() || unplugged) return;
    if (chance(options.write_twice)) bytes.insert(bytes.end(), bytes.begin(), bytes.end());
    for (std::uint8_t byte : bytes) {
      free_at = std::max(free_at, now) + 20'000;
      std::int64_t at = free_at + options.delay_ns;
      if (options.slot_ns > 0) at = (at / options.slot_ns + 1) * options.slot_ns;
      if (chance(options.drop)) continue;
      if (chance(options.flip)) byte = static_cast<std::uint8_t>(byte ^ (1u << (random_() % 8)));
      wire.push_back({at, byte});
      if (chance(options.twice)) wire.push_back({at, byte});
    }
  }

  void exchange() {
    board.advance(now);
    for (; !to_board_.empty() && to_board_.front().at <= now; to_board_.pop_front()) board.on_byte(to_board_.front().byte, now);
    transmit(board.take_output(), to_host_, board_wire_free_);
    if (host_asleep) return;
    std::vector<std::uint8_t> arrived;
    for (; !to_host_.empty() && to_host_.front().at <= now; to_host_.pop_front()) arrived.push_back(to_host_.front().byte);
    if (!arrived.empty()) link.on_bytes(arrived, {now});
    if (now >= link.next_deadline().count) link.on_deadline({now});
    transmit(link.take_output(), to_board_, host_wire_free_);
    while (auto event = link.next_event()) events.push_back(*event);
  }

  /// On to the next byte or deadline; at most 250 us, so that the board's own timing is seen, too.
  void step(std::int64_t end) {
    std::int64_t next = std::min(end, now + 250'000);
    if (!to_board_.empty()) next = std::min(next, to_board_.front().at);
    if (!to_host_.empty() && !host_asleep) next = std::min(next, to_host_.front().at);
    if (!host_asleep) next = std::min(next, link.next_deadline().count);
    now = std::max(next, now + 1'000);
  }

  std::mt19937 random_;
  std::deque<Flying> to_board_, to_host_;
  std::int64_t host_wire_free_{0}, board_wire_free_{0};
};

inline constexpr std::int64_t kMs = 1'000'000;

/// `frames` frames of 1500 us pulses on each of `lines` lines, `period_us` apart, the first rise at `first`.
inline std::vector<StimulusEdge> pulses(BoardTime first, int frames, int lines, int period_us) {
  std::vector<StimulusEdge> edges;
  for (int frame = 0; frame < frames; ++frame)
    for (int line = 0; line < lines; ++line) {
      const BoardTime rise = first + BoardSpan{(frame * std::int64_t{period_us} + line * 10) * kTicksPerUs};
      edges.push_back({rise, static_cast<std::uint8_t>(line), true});
      edges.push_back({rise + BoardSpan{1500 * kTicksPerUs}, static_cast<std::uint8_t>(line), false});
    }
  std::stable_sort(edges.begin(), edges.end(), [](const auto& a, const auto& b) { return a.at < b.at; });
  return edges;
}

}  // namespace midstick::link::test
