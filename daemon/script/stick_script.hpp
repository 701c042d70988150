// A stick script: what the transmitter's sticks do over time, and what goes wrong on the wires meanwhile.
//
// A script is a list of moves played one after another; inside, everything is a pulse width in us of true time. Percent in files
// becomes us with the mixer spec's endpoints when loaded. Plain values; `rng` seeds are part of the value: same script, same pulses.
#pragma once

#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "daemon/core/time.hpp"

namespace midstick::script {

/// How the receiver sends its channels.
struct ReceiverFrame {
  double period_us{20000};                 ///< 2500..50000
  std::map<std::string, double> phase_us;  ///< by input name: first rise after the frame's start; default sequential, 200 us gaps
  double jitter_us{0};                     ///< uniform +- on each width, seeded
  double dither_us{0};                     ///< uniform +- on each frame's period, seeded: sweeps the phase against the controller
  /// Inputs without a phase of their own: one after another, the same backwards, all rising together, or each rising `overlap_us` before
  /// the one before it falls.
  enum class Order : std::uint8_t { sequential, reversed, simultaneous, overlapping } order{Order::sequential};
  double overlap_us{500};
  std::map<std::string, double> drift_us;  ///< by input: its phase moves on by this in every frame, round and round inside the frame
};

enum class Fault : std::uint8_t {
  none,
  drop,        ///< no pulse
  stuck_low,   ///< line low
  stuck_high,  ///< line rises as for a pulse and stays high until 200 us before the first frame after the move
  runt,        ///< an extra short high in the gap
  notch,       ///< a short low inside the pulse
  cut,         ///< the pulse ends at_us after its rise; then the line stays low to the end of the move
  storm        ///< after the pulse, highs and lows of width_us each, from at_us after its rise for for_us
};

/// A fault on one input during a move.
struct ChannelFault {
  std::string input;
  Fault fault{Fault::none};
  double at_us{5000};   ///< after the rise of the input's own pulse (where it would be, if dropped)
  double width_us{20};  ///< of the runt, the notch, or each level of the storm
  double at_to_us{0};   ///< over at_us: drawn anew for each frame, uniform between the two
  double for_us{0};     ///< length of the storm
  double share{1};      ///< 0..1: the share of frames that it happens in, seeded
};

/// port_open, port_close: the controller's own serial port, where its description names one.
enum class ActionKind : std::uint8_t { power_on, power_off, reset, port_open, port_close };

/// One stretch of stick movement. `width_us(input)` at time t is given by `kind`. It must last one frame (period + dither) at least, so
/// must each point. An input that a move or point does not name stays where it was; before any names it, it is at 1500 us.
struct Move {
  enum class Kind : std::uint8_t { hold, ramp, sine, points } kind{Kind::hold};
  double for_ms{0};  ///< length; points: their number times point_ms, whatever for_ms says
  // hold: `from` all along. ramp: `from` -> `to`. sine: from + amplitude * sin(2 pi t / period). points: one entry each `point_ms`.
  std::map<std::string, double> from, to, amplitude_us;
  double period_ms{1000};
  double point_ms{400};
  std::vector<std::map<std::string, double>> points;  ///< us by input; grid, list, sweep, step and random become points
  std::vector<ChannelFault> faults;                   ///< all along this move
  std::vector<ActionKind> actions;                    ///< at the move's start, wherever in a frame that is
  double action_within_ms{0};                         ///< over 0: actions come a seeded, uniform time of up to this after the start
  std::optional<ReceiverFrame> frame;                 ///< during this move, instead of the script's
  std::string mark;                                   ///< "" none; a Mark at the start of the first frame of the move; points: one each
};

struct StickScript {
  std::string name;
  ReceiverFrame frame;
  std::uint64_t seed{1};
  std::vector<Move> moves;
};

}  // namespace midstick::script
