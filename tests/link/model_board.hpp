// A bench board as PROTOCOL.md describes it, in plain C++: the other end of the wire for tests of the link.
//
// Not the firmware (tests/virtual runs that). Owns its queues; single-threaded; time is true ns handed in, its own clock runs
// `ppm` fast from `boot_ns`. It records what it carried out, in order, and whether the host ever broke a rule.
#pragma once

#include <array>
#include <cstdint>
#include <deque>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include "protocol/command_sequence.hpp"
#include "protocol/edge_list.hpp"
#include "protocol/messages.hpp"
#include "protocol/schema_text.hpp"

namespace midstick::link::test {

struct BoardOptions {
  double ppm{0};
  std::uint32_t boot_id{7};
  std::uint8_t queue_depth{32};
  std::uint8_t pin_change_lines{6};
  std::int64_t boot_takes_ns{0};  // deaf for so long (boot loader)
  std::string schema = MIDSTICK_SCHEMA_TEXT;
  std::uint8_t protocol = MIDSTICK_PROTOCOL_VERSION;
  std::uint32_t first_tick{0};  // board clock at boot, to test wraps
};

class ModelBoard {
 public:
  explicit ModelBoard(BoardOptions options, std::int64_t now_ns) { boot(options, now_ns); }

  void boot(BoardOptions options, std::int64_t now_ns);
  void on_byte(std::uint8_t byte, std::int64_t now_ns);
  /// Carry out what is due by `now_ns`.
  void advance(std::int64_t now_ns);
  std::vector<std::uint8_t> take_output() { return std::exchange(output_, {}); }

  std::int64_t tick_at(std::int64_t now_ns) const;
  template <class Message>
  void send(const Message& message);

  struct Done {
    std::int64_t tick;
    std::uint8_t line;
    bool level;
    friend bool operator==(const Done&, const Done&) = default;
  };
  std::vector<Done> done;                // stimulus edges carried out, 64-bit ticks
  std::vector<std::uint16_t> holds;      // `hold` of every controller_reset carried out, in order
  std::vector<std::uint8_t> commands;    // types of every command taken, in order
  std::vector<std::uint64_t> responses;  // ticks of every response edge sent
  int stops_carried_out{0};
  protocol::Fault fault{protocol::Fault::none};
  bool started{false}, power{false};
  protocol::Refusal refused{protocol::Refusal::none};
  int hello_requests{0};
  std::uint8_t next_board_seq{0};

 private:
  void on_frame(std::int64_t now_ns);
  void obey(std::uint8_t type, std::span<const std::uint8_t> payload, std::uint8_t seq, std::int64_t now_ns);
  void take_stimulus(const protocol::Stimulus& stimulus, std::uint8_t seq, std::int64_t now_ns);
  void refuse(protocol::Refusal reason, std::uint8_t seq);
  void say_hello();
  void say_ack();
  void say_event(protocol::EventCode code, std::uint16_t value, std::int64_t now_ns);
  void say_status(std::int64_t now_ns);
  void safe(protocol::Fault reason, std::int64_t now_ns);
  void halt();
  std::int64_t widen(protocol::WireTick tick, std::int64_t now_ns) const;
  protocol::LineCredits credits() const;

  BoardOptions options_;
  std::int64_t boot_ns_{0}, deaf_until_{0}, refresh_ns_{0}, last_heard_{0}, next_status_{0};
  bool greeted_once_{false};
  protocol::FrameDecoder decoder_;
  protocol::CommandGate gate_;
  std::array<std::deque<Done>, protocol::kStimulusLines> queues_;
  std::uint8_t refused_seq_{0};
  std::uint32_t edges_total_{0}, stimulus_done_{0};
  std::vector<std::uint8_t> output_;
};

}  // namespace midstick::link::test
