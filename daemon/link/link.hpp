// The conversation with a bench board: hello, commands delivered once and in order, stimulus with credits, events in host types.
//
// Sans IO: no thread, descriptor or clock inside. The owner hands in bytes and deadlines and sends what take_output() gives
// (daemon/link/pump.hpp does that over a Transport). Time is host ns as the owner sees it; board ticks are widened here and nowhere else.
// Bytes from the board are never trusted: damaged or impossible frames are counted and dropped. Once failed, the link only repeats its
// Error; open() starts afresh. While a run is on it refreshes the board, but only as long as its owner keeps calling on_deadline().
#pragma once

#include <cstdint>
#include <deque>
#include <map>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "daemon/core/result.hpp"
#include "daemon/core/time.hpp"
#include "daemon/link/command_window.hpp"
#include "daemon/link/frame_log.hpp"
#include "daemon/link/greeting.hpp"
#include "daemon/link/link_event.hpp"
#include "daemon/link/stimulus_queue.hpp"
#include "daemon/link/tick_widener.hpp"
#include "protocol/frame.hpp"

namespace midstick::link {

struct LinkSettings {
  HostSpan hello_interval = host_ms(200);   ///< between two hellos
  HostSpan hello_patience = host_ms(4000);  ///< a board that was reset by opening its port boots for 1 to 2 s
  HostSpan ack_timeout = host_ms(50);       ///< without progress, on top of wire time
  int ack_tries = 20;                       ///< timeouts in a row before the link gives up (about 1 s)
  HostSpan credit_poll = host_ms(5);        ///< between requests for credits (and between small frames) while stimulus due soon waits
  HostSpan idle_poll = host_ms(50);         ///< the same while what waits is due later
  HostSpan stimulus_near = host_ms(150);    ///< stimulus due this soon is sent even in small frames
  std::int64_t byte_ns = 20'000;            ///< wire time of a byte, ns: 500 kbaud, 10 bits; 0 where there is no wire
};

struct LinkCounters {
  std::uint64_t frames_in{0}, frames_out{0};
  std::uint64_t bad_frames{0};   ///< damaged, or impossible in content
  std::uint64_t lost_frames{0};  ///< by gaps in the board's sequence
  std::uint64_t resends{0};      ///< times commands were sent again
  std::uint64_t edges_in{0};
};

class Link {
 public:
  explicit Link(LinkSettings settings = {});

  /// Begin (or begin again) with hello. Everything pending is forgotten.
  void open(HostTime now);
  void on_bytes(std::span<const std::uint8_t> bytes, HostTime now);
  void on_deadline(HostTime now);
  /// Bytes to send, in order.
  std::vector<std::uint8_t> take_output();
  /// When on_deadline() should be called at the latest.
  HostTime next_deadline() const;
  std::optional<LinkEvent> next_event();

  bool ready() const { return state_ == State::ready; }
  bool failed() const { return state_ == State::failed; }
  const std::optional<Error>& error() const { return error_; }
  /// Of the board; only meaningful once greeted.
  const protocol::Hello& hello() const { return hello_; }
  const LinkCounters& counters() const { return counters_; }
  /// Newest tick known, carried on to `now` at the nominal rate. Rough: for planning, never for judging.
  std::optional<BoardTime> board_now(HostTime now) const { return ticks_.expected_now(now); }
  /// The last frames each way as text, for a fault report.
  std::string recent_frames() const { return log_.text(); }

  // Commands. Only when ready(); ignored otherwise (a failed link has said so). Delivered once, in order.
  /// Begin a run. `refresh_ms` 20..hello().refresh_max; bit n of `lines` captures response line n. Forgets stimulus still waiting.
  void start(std::uint16_t refresh_ms, std::uint8_t lines, HostTime now);
  /// Edges in order of time, alternating on each line; they wait here until the board has room.
  void stimulate(std::span<const StimulusEdge> edges, HostTime now);
  void power(bool on, std::optional<BoardTime> at, HostTime now);                           ///< `at` nothing: at once
  void reset_controller(std::uint16_t hold_ms, std::optional<BoardTime> at, HostTime now);  ///< hold 1..10000 ms
  /// Pulses low, power off. Goes ahead of everything that still waits here.
  void stop(HostTime now);
  /// Ask for a clock sample; it comes as ClockSampled, or never.
  void query_clock(HostTime now);

  std::size_t waiting_stimulus() const { return stimulus_.size(); }
  /// Every command given so far is acknowledged and no stimulus waits.
  bool idle() const { return commands_.empty() && window_.empty() && stimulus_.size() == 0; }

 private:
  enum class State { closed, greeting, ready, failed };
  using CommandMessage = std::variant<protocol::Start, protocol::Power, protocol::ControllerReset, protocol::Stop, protocol::Refresh>;

  void on_frame(HostTime now);
  void dispatch(std::uint8_t type, std::span<const std::uint8_t> payload, HostTime now);
  void count_sequence(std::uint8_t seq, HostTime now);
  void handle(const protocol::Hello& hello, HostTime now);
  void handle(const protocol::SchemaText& piece, HostTime now);
  void handle(const protocol::ClockReply& reply, HostTime now);
  void handle(const protocol::Ack& ack, HostTime now);
  void handle(const protocol::Edges& frame, HostTime now);
  void handle(const protocol::Event& event, HostTime now);
  void handle(const protocol::BoardState& status, HostTime now);
  void settle_greeting(HostTime now);
  void note_refusal(const protocol::Ack& ack);
  void note_progress(std::uint8_t accepted, const protocol::LineCredits& credits, bool answers, HostTime now);
  void act_on(CommandWindow::Verdict verdict, HostTime now);
  void restarted(std::uint32_t boot_id);
  void fail(Error error);
  void bad_frame() { ++counters_.bad_frames; }

  void pump(HostTime now);
  HostSpan least_wire_time(std::size_t bytes) const;
  void send_stimulus(HostTime now);
  bool stimulus_is_near(HostTime now) const;
  void keep_alive(HostTime now);
  void send_now(std::uint8_t seq, const CommandMessage& message, HostTime now);
  void put(std::span<const std::uint8_t> wire, HostTime now);
  template <class Message>
  std::vector<std::uint8_t> frame_of(std::uint8_t seq, const Message& message) const;

  LinkSettings settings_;
  State state_{State::closed};
  std::optional<Error> error_;
  protocol::FrameDecoder decoder_;
  Greeting greeting_;
  CommandWindow window_;
  StimulusQueue stimulus_;
  std::deque<CommandMessage> commands_;
  TickWidener ticks_;
  FrameLog log_;
  LinkCounters counters_;
  protocol::Hello hello_{};
  std::deque<LinkEvent> events_;
  std::vector<std::uint8_t> output_;

  int hellos_heard_{0};
  std::optional<std::uint8_t> last_seq_;           // of the board
  std::optional<std::int64_t> edges_since_start_;  // received since a start of ours, to hold against the board's own count
  std::uint8_t refused_seq_{0};
  bool run_on_{false};
  HostSpan refresh_every_{};
  HostTime next_refresh_{}, next_poll_{};
  std::uint16_t next_token_{0};
  std::map<std::uint16_t, HostTime> queries_;  // token -> earliest arrival at the board
};

}  // namespace midstick::link
