// Turns the glimpses of a run into live messages (Live of the API), about 20 a second of wall-clock time, whatever pace the bench plays at.
//
// Belongs to the thread that plays; what it gives is a message ready to be sent. A line's width is null when it made no pulse in the last
// 100 ms of board time. No failure.
#pragma once

#include <chrono>
#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "daemon/engine/run.hpp"

namespace midstick::service {

class LiveTap {
 public:
  using Clock = std::chrono::steady_clock;
  static constexpr std::chrono::milliseconds kEvery{50};
  static constexpr std::size_t kMostPulses = 64;  ///< of one line in one message; older ones are left out

  LiveTap(std::string bench, std::int64_t run) : bench_(std::move(bench)), run_(run) {}

  /// JSON text, or nothing when the last message is younger than kEvery.
  std::optional<std::string> message(const engine::RunProgress& progress, Clock::time_point now);

 private:
  struct Pulse {
    double at_ms{0}, us{0};
  };
  struct Line {
    std::optional<BoardTime> rise;
    std::optional<BoardTime> last_fall;
    double us{0};
    std::vector<Pulse> fresh;
  };
  void take(const engine::Glimpse& glimpse, BoardTime at, std::uint8_t line, bool level, std::map<std::uint8_t, Line>& lines);

  std::string bench_;
  std::int64_t run_;
  std::optional<Clock::time_point> sent_;
  std::size_t stimulus_seen_{0}, response_seen_{0};
  std::map<std::uint8_t, Line> sticks_, outputs_;
};

}  // namespace midstick::service
