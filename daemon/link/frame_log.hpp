// The last 100 frames each way, kept as bytes and turned to text only when a fault is reported.
//
// Not a trace of everything and not a file. Host ns. No threads; cannot fail: bytes that do not decode are shown in hex.
#pragma once

#include <cstddef>
#include <cstdint>
#include <deque>
#include <span>
#include <string>
#include <vector>

#include "daemon/core/time.hpp"

namespace midstick::link {

struct LoggedFrame {
  HostTime at;
  bool from_board{false};
  std::uint8_t type{0}, seq{0};
  std::vector<std::uint8_t> payload;
};

class FrameLog {
 public:
  static constexpr std::size_t kKept = 100;  ///< frames each way

  void add(LoggedFrame frame);
  /// Both directions merged by time, one frame a line: "12.345678 s board 71 status seq 9 now=...".
  std::string text() const;

 private:
  std::deque<LoggedFrame> sent_, received_;
};

/// One frame as text: "status seq 9 now=123 ticks ...".
std::string frame_text(std::uint8_t type, std::uint8_t seq, std::span<const std::uint8_t> payload);

/// Names from the schema; "unknown 42" for numbers it does not have.
std::string fault_name(std::uint8_t number);
std::string refusal_name(std::uint8_t number);
std::string event_name(std::uint8_t number);
/// What it means, as the schema puts it; empty for unknown numbers.
std::string fault_meaning(std::uint8_t number);
std::string refusal_meaning(std::uint8_t number);

}  // namespace midstick::link
