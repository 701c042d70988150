// A stick script in whole nanoseconds and controller inputs by number: what compile() plays and feasible() checks.
//
// An input that a move does not name stays where it was; before any move names it, it is at 1500 us. Lengths: a move of points lasts
// its number of points times point_ms, every other move for_ms. Pure; assumes finite numbers in range, which first_trouble() has checked.
#pragma once

#include <cstdint>
#include <vector>

#include "daemon/script/controller.hpp"
#include "daemon/script/stick_script.hpp"

namespace midstick::script {

inline constexpr std::int64_t kGapNs = 200'000;  ///< between pulses that follow one another, and before the first
inline constexpr std::int64_t kLeastNs = 1'000;  ///< shortest level on a line

using Widths = std::vector<double>;  ///< us, by controller input

/// What one input's line does in every frame of a move.
struct LineFaults {
  bool pulse{true};        ///< the pulse is sent
  bool stuck_high{false};  ///< the line rises as for a pulse and stays high
  struct Extra {
    std::int64_t at_ns, width_ns;  ///< after the pulse's rise
    bool level;                    ///< true runt, false notch
  };
  std::vector<Extra> extras;
};

struct ResolvedMove {
  std::int64_t start_ns{0}, length_ns{0}, point_ns{0};
  Move::Kind kind{};
  Widths from, to, amplitude;
  double period_ms{0};
  std::vector<Widths> points;
  std::vector<LineFaults> lines;  ///< by controller input

  /// Commanded widths `t_ns` after the move's start.
  Widths at(std::int64_t t_ns) const;
  /// Number of the point that `t_ns` falls in; 0 for other moves.
  std::size_t point(std::int64_t t_ns) const;
};

std::int64_t length_ns(const Move& move);

std::vector<ResolvedMove> resolve(const StickScript& script, const ControllerDescription& controller);

/// Rise of each input's pulse after the frame's start, for these widths in ns: a phase where given, else one after another.
std::vector<std::int64_t> rises(const ReceiverFrame& frame, const ControllerDescription& controller,
                                const std::vector<std::int64_t>& widths);

inline std::int64_t us_to_ns(double us) { return static_cast<std::int64_t>(us * 1e3 + (us < 0 ? -0.5 : 0.5)); }
inline std::int64_t ms_to_ns(double ms) { return static_cast<std::int64_t>(ms * 1e6 + 0.5); }

}  // namespace midstick::script
