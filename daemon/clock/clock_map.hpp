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

  std::uint32_t boot_id{0};
  BoardTime board_origin{};
  HostTime host_origin{};
  double ns_per_tick{kNominalNsPerTick};
  double uncertainty_ppm{5000.0};  ///< resonator tolerance until measured (ceramic resonators, makers' data from memory: +-0.5 %)
  int samples{0};                  ///< clock exchanges the estimate stands on

  /// Board clock error in parts per million; positive: board fast.
  double ppm() const { return (kNominalNsPerTick / ns_per_tick - 1.0) * 1e6; }
  /// True microseconds in a span of board ticks.
  double us(BoardSpan span) const { return static_cast<double>(span.count) * ns_per_tick / 1e3; }
  /// Uncertainty (95 %) in microseconds that the rate alone gives a span.
  double rate_uncertainty_us(BoardSpan span) const { return std::abs(us(span)) * uncertainty_ppm / 1e6; }
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
