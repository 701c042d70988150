// A conversation with one bench: greeted, clock known, ready to play. Shared by `run`, `bench` and the daemon.
//
// Single-threaded; borrows the transport. open() and settle_clock() block (in virtual time on a virtual bench) up to their stated patience.
// Errors: bench_missing when nobody answers or another wire is spoken, bench_unfit when the clock cannot be known, stopped on request.
#pragma once

#include <atomic>
#include <functional>
#include <optional>

#include "daemon/capture/capture.hpp"
#include "daemon/clock/estimator.hpp"
#include "daemon/core/result.hpp"
#include "daemon/link/link.hpp"
#include "daemon/link/transport.hpp"

namespace midstick::engine {

/// A width is right to 0.2 us at 2 ms when the rate is known to 100 ppm; needed before the first pulse (TIME.md).
inline constexpr double kClockPpm = 100;
inline constexpr HostSpan kClockPatience = host_ms(15'000);

class Session {
 public:
  /// `stop`: set from outside (Ctrl-C); looked at between two reads. Both must outlive the session.
  Session(link::Transport& transport, const std::atomic<bool>& stop) : transport_(transport), stop_(stop) {}

  /// Hello, schema check.
  Status open();
  /// Ask for clock samples until the rate is known to `ppm` (95 %), at most `patience`.
  Status settle_clock(double ppm, HostSpan patience);
  /// Pump once: at most until `until`; every event goes to `sink`, clock samples to the estimator too.
  Status step(HostTime until, const std::function<void(const link::LinkEvent&)>& sink);
  /// Ask for a clock sample when `every` has passed since the last.
  void sample_clock(HostSpan every);
  /// Pulses low and controller power off, now; waits up to one second for the board's word. Harmless when the port is gone.
  void make_safe();

  bool stop_requested() const { return stop_.load(std::memory_order_relaxed); }
  link::Link& link() { return link_; }
  HostTime now() const { return transport_.now(); }
  const clock::ClockMap& clock_map() const { return estimator_.map(); }
  const clock::ClockEstimator& clock() const { return estimator_; }
  /// How the clock is known, and what the host's own clock is worth.
  clock::ClockFacts clock_facts() const;
  capture::Identity identity() const;

 private:
  link::Transport& transport_;
  const std::atomic<bool>& stop_;
  link::Link link_;
  clock::ClockEstimator estimator_;
  HostTime next_query_{};
  std::optional<clock::HostReading> host_at_settling_;
};

}  // namespace midstick::engine
