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

/// One fault on one input's line during a move; times are ns after the rise of the input's pulse.
struct LineFault {
  Fault fault{};
  std::int64_t at_ns{0}, at_to_ns{0};  ///< its start is drawn between these, which may be equal
  std::int64_t width_ns{0}, for_ns{0};
  double share{1};       ///< of the frames
  std::uint64_t key{0};  ///< tells its draws from those of every other fault of the move

  bool always() const { return share >= 1; }
  /// No pulse of its own shape is ever sent while this lasts.
  bool takes_pulse() const;
  /// Highs or lows beside the pulse's own edges.
  bool adds_edges() const { return fault == Fault::runt || fault == Fault::notch || fault == Fault::storm; }
  /// Highs (of a notch: lows) that it adds.
  std::int64_t count() const { return fault == Fault::storm ? (for_ns + width_ns) / (2 * width_ns) : 1; }
  /// From its start to its last edge.
  std::int64_t length_ns() const { return (2 * count() - 1) * width_ns; }
};
using LineFaults = std::vector<LineFault>;

struct ResolvedMove {
  std::int64_t start_ns{0}, length_ns{0}, point_ns{0};
  Move::Kind kind{};
  ReceiverFrame frame;
  Widths from, to, amplitude;
  double period_ms{0};
  std::vector<Widths> points;
  std::vector<LineFaults> lines;  ///< by controller input
  std::vector<bool> relays;       ///< by controller relay: switched all along

  /// Commanded widths `t_ns` after the move's start.
  Widths at(std::int64_t t_ns) const;
  /// Number of the point that `t_ns` falls in; 0 for other moves.
  std::size_t point(std::int64_t t_ns) const;
};

std::int64_t length_ns(const Move& move);

std::vector<ResolvedMove> resolve(const StickScript& script, const ControllerDescription& controller);

/// Rise of each input's pulse after the frame's start, for these widths in ns: a phase where given, else by the frame's order.
std::vector<std::int64_t> rises(const ReceiverFrame& frame, const ControllerDescription& controller,
                                const std::vector<std::int64_t>& widths);

/// Shortest and longest the frame's period can be, ns.
std::int64_t shortest_ns(const ReceiverFrame& frame);
std::int64_t longest_ns(const ReceiverFrame& frame);

inline std::int64_t us_to_ns(double us) { return static_cast<std::int64_t>(us * 1e3 + (us < 0 ? -0.5 : 0.5)); }
inline std::int64_t ms_to_ns(double ms) { return static_cast<std::int64_t>(ms * 1e6 + 0.5); }

}  // namespace midstick::script
