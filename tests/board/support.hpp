// A small host for the board's tests: speaks the wire to the firmware on the virtual bench, and keeps what the board said.
//
// Independent of daemon/link on purpose: the firmware is held to the protocol itself. Owns its bench; one thread; virtual time.
// Board ticks and the bench's own record (board cycles) differ by a constant, since one tick is one cycle: see tick_of().
#pragma once

#include <gtest/gtest.h>

#include <array>
#include <deque>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "fixtures/board/limits.hpp"
#include "fixtures/virtual/bench.hpp"
#include "protocol/command_sequence.hpp"
#include "protocol/edge_list.hpp"
#include "protocol/messages.hpp"

namespace midstick::board_test {

namespace vb = midstick::virtual_bench;
namespace wire = midstick::protocol;

constexpr std::uint32_t kMs = board::kTicksPerMs;

/// A response edge as the board reported it, or a stimulus edge as it was commanded; ticks.
struct Edge {
  std::uint32_t at{0};
  std::uint8_t line{0};
  bool level{false};
  bool delayed{false};
};

class BoardHost {
 public:
  explicit BoardHost(vb::VirtualBenchOptions options = {});

  vb::VirtualBench& bench() { return *bench_; }
  const vb::VirtualBench& bench() const { return *bench_; }

  /// Let virtual time pass and take in what the board says.
  void run_ms(double ms);
  void run_until_ns(std::int64_t ns);

  /// Send a command in sequence without waiting.
  template <class Message>
  void command(const Message& message) {
    seq_ = wire::next_seq(seq_);
    transmit(seq_, message);
  }
  /// Send with a sequence number of one's own (0 for what stands outside the sequence).
  template <class Message>
  void transmit(std::uint8_t seq, const Message& message) {
    wire::FixedOutput<512> out;
    ASSERT_TRUE(wire::write_frame(out, seq, message));
    ASSERT_TRUE(bench_->write({out.data(), out.size()}));
  }
  /// Send a command and wait for its ack, 50 ms at most; the reason for refusal, 0 none.
  template <class Message>
  int refusal_of(const Message& message) {
    command(message);
    return wait_for_ack();
  }
  int wait_for_ack();

  /// hello_request, hello and start; the board's edges, events and counters begin afresh.
  void start(std::uint8_t lines = 0xFF, std::uint16_t refresh_ms = 1000);
  wire::Hello hello();

  /// Queue edges in order of time, sent by pump_stimulus() as the board has room, a refresh now and then.
  void plan(std::vector<Edge> edges) { pending_.insert(pending_.end(), edges.begin(), edges.end()); }
  /// Run for so long, feeding the planned edges.
  void stream_ms(double ms);

  /// Board tick about now, from the bench's record of cycles; exact once the board has been heard.
  std::uint32_t tick_now() const { return tick_of(bench_->board_cycle()); }
  std::uint32_t tick_of(std::uint64_t cycle) const { return static_cast<std::uint32_t>(cycle - cycle_of_tick_0_); }
  std::int64_t ns_of_tick(std::uint32_t tick) const;
  /// Learn the constant between ticks and cycles exactly, from one commanded edge at S1.
  void align();

  std::vector<Edge> edges;
  std::vector<wire::Event> events;
  std::vector<wire::BoardState> statuses;
  std::vector<wire::ClockReply> clock_replies;
  std::vector<wire::Ack> acks;
  std::string schema_text;
  std::vector<wire::Hello> hellos;
  int gaps{0};        ///< board frames missing by their sequence numbers
  int bad_frames{0};  ///< that did not decode

  bool saw(wire::EventCode kind, int value = -1) const;
  /// True edges of a wire since `from` in the record.
  vb::TruthRecord truth(vb::Wire kind, int line = -1) const;
  /// The relay as it truly is, since start().
  bool relay_on() const;
  std::uint8_t fault() const { return statuses.empty() ? 0 : statuses.back().fault; }

 private:
  void take_byte(std::uint8_t byte);
  void take_frame();
  void take_edges(const wire::Edges& message);
  void send_stimulus();

  std::unique_ptr<vb::VirtualBench> bench_;
  wire::FrameDecoder decoder_;
  std::uint8_t seq_{0}, board_seq_{0};
  bool heard_{false};
  std::uint64_t cycle_of_tick_0_{0};
  std::deque<Edge> pending_;
  std::array<int, 6> credits_{};
  std::deque<std::array<int, 6>> under_way_;  ///< edges per line in each unacknowledged command
  std::deque<std::uint8_t> under_way_seq_;
  std::int64_t last_sent_ns_{0};
};

/// Pulses on one line: first rise, period, width, all ticks.
std::vector<Edge> pulses(std::uint8_t line, std::uint32_t first, std::uint32_t period, const std::vector<std::uint32_t>& widths);
/// Merge by time, relative to `base`.
std::vector<Edge> merged(std::vector<std::vector<Edge>> lists, std::uint32_t base);

}  // namespace midstick::board_test
