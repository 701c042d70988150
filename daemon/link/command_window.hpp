// Go-back-N for commands: keeps what is sent and not yet acknowledged, says when to send it all again and when to give up.
//
// Sans IO: the owner writes the bytes. An ack that brings no progress means the oldest command is missing: sent again at once, but no
// more often than once a timeout, or late acks would echo for ever; else the timer decides. Giving up counts tries, not time, so a host
// that was stopped for a while does not give up on waking. Host ns. No threads. Nonsense from outside is a return value.
#pragma once

#include <array>
#include <cstdint>
#include <deque>
#include <vector>

#include "daemon/core/time.hpp"
#include "protocol/command_sequence.hpp"
#include "protocol/messages.hpp"

namespace midstick::link {

struct SentCommand {
  std::uint8_t seq{0};
  std::vector<std::uint8_t> wire;                              ///< the whole frame
  std::array<std::uint8_t, protocol::kStimulusLines> edges{};  ///< stimulus edges in it, by line
};

class CommandWindow {
 public:
  enum class Verdict { nothing, progress, resend, give_up, nonsense };

  /// `timeout` ns without progress (wire time of what is in flight comes on top); `tries` of that in a row is the end.
  CommandWindow(HostSpan timeout, int tries, std::int64_t byte_ns) : timeout_(timeout), tries_(tries), byte_ns_(byte_ns) {}

  void reset();
  bool has_room() const { return in_flight_.size() < protocol::kWindow; }
  bool empty() const { return in_flight_.empty(); }
  std::uint8_t next_seq() const { return protocol::next_seq(last_sent_); }
  /// `command.seq` must be next_seq(), and there must be room.
  void add(SentCommand command, HostTime now);
  /// `answers`: an ack, so without progress it means that something is missing; a status may simply be older than our command.
  Verdict on_ack(std::uint8_t accepted, bool answers, HostTime now);
  Verdict on_deadline(HostTime now);
  /// When on_deadline() is due; far future while nothing is in flight.
  HostTime deadline() const;
  const std::deque<SentCommand>& in_flight() const { return in_flight_; }
  int resends() const { return resends_; }

 private:
  Verdict resend(HostTime now);
  void rearm(HostTime now);

  HostSpan timeout_;
  int tries_;
  std::int64_t byte_ns_;
  std::deque<SentCommand> in_flight_;
  std::uint8_t accepted_{0};
  std::uint8_t last_sent_{0};
  HostTime due_{}, hurry_from_{};
  int tries_done_{0};
  int resends_{0};
};

}  // namespace midstick::link
