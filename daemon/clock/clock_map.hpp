// Where board time and true (host) time meet, as a value. Nothing else converts between them.
//
// host_ns = host_origin.count + (board - board_origin) * ns_per_tick. `uncertainty_ppm` is the half-width of a 95 % interval on the
// rate, relative. Sign: ppm() > 0 means the board's clock runs fast (its tick is shorter than 62.5 ns).
// Pure arithmetic, no threads, cannot fail. Valid only for the boot named by boot_id.
#pragma once

#include <cmath>
#include <cstdint>

#include "daemon/core/time.hpp"

namespace midstick::clock {

struct ClockMap {
  static constexpr double kNominalNsPerTick = 62.5;
  static constexpr double kUnmeasuredPpm = 5000;  ///< resonator tolerance (ceramic resonators, makers' data from memory: +-0.5 %)

  std::uint32_t boot_id{0};
  BoardTime board_origin{};
  HostTime host_origin{};
  double ns_per_tick{kNominalNsPerTick};
  double uncertainty_ppm{kUnmeasuredPpm};
  int samples{0};  ///< clock exchanges the estimate stands on

  /// Board clock error in parts per million; positive: board fast.
  double ppm() const { return (kNominalNsPerTick / ns_per_tick - 1.0) * 1e6; }
  /// True microseconds in a span of board ticks.
  double us(BoardSpan span) const { return static_cast<double>(span.count) * ns_per_tick / 1e3; }
  /// One standard uncertainty of the rate, ppm. The published half width is 95 % by name, but the estimator's tests hold it to 99 of 100,
  /// over every scene, so it is 2.576 standard deviations of a normal (JCGM 100:2008 4.3.4). Of a clock not yet measured only the
  /// resonator's tolerance is known: a rectangle (4.3.7).
  double standard_ppm() const { return uncertainty_ppm / (uncertainty_ppm < kUnmeasuredPpm ? 2.576 : std::sqrt(3.0)); }
  /// The same as time in a span, microseconds.
  double rate_standard_us(BoardSpan span) const { return std::abs(us(span)) * standard_ppm() / 1e6; }
  /// Nearest whole number of board ticks in a span of true time.
  BoardSpan ticks(ScriptSpan span) const { return {std::llround(static_cast<double>(span.count) / ns_per_tick)}; }
  HostTime to_host(BoardTime t) const {
    return {host_origin.count + std::llround(static_cast<double>((t - board_origin).count) * ns_per_tick)};
  }
  BoardTime to_board(HostTime t) const {
    return {board_origin.count + std::llround(static_cast<double>((t - host_origin).count) / ns_per_tick)};
  }
};

}  // namespace midstick::clock
