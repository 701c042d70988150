// The mixer specification: what the controller is meant to do, as numbers.
//
// It fixes the order of operations, since each order gives other numbers (trade practice, no published source):
//   each stick: normalise -> dead band -> square -> expo -> rate -> slew
//   both: pivot and speed scale -> reverse steering -> mix -> saturate
//   each output: reverse limit -> start offset and us map -> trim -> hard clamp
// Slew acts on the sticks, not on the sides: limited on the sides, a quick turn could drive the vehicle forward on its way.
// Sticks are -1..1 inside, percent in files; pulse widths are microseconds of true time. Plain values, no failure here: the
// loader (script/load) has already checked ranges. Two inputs named by `throttle` and `steering`, two outputs by `left`, `right`;
// law matrix alone has more. The slew of `more_inputs` is their own.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "daemon/esc/spec.hpp"

namespace midstick::mixer {

/// With d the half width as a share of the travel, x the normalised stick, y what the next stage gets:
enum class DeadBandKind {
  none,
  jump,        ///< y = 0 for |x| < d, else x
  continuous,  ///< y = sgn(x) max(0, |x| - d) / (1 - d)
  curve,  ///< continuous, and through the curve f of square and expo: y = sgn(x) (f(|x|) - f(d)) / (f(1) - f(d)); f is not applied again
  soft,   ///< y = x (|x| (1 + c) / (|x| + c))^8: flat at the centre, no edge
  hysteresis  ///< jump that is entered at d - h and left at d + h
};
enum class Law {
  clip,
  proportional,
  throttle_priority,
  steering_priority,
  blend,
  halved,
  inner_wheel,  ///< steering slows the inner side only; near T = 0 the sides counter-rotate
  curvature,    ///< T +- |T| S, with a quick turn T +- S near T = 0
  elevon,       ///< left = T/2 - S/2, right = T/2 + S/2
  v_tail,       ///< g1 T +- g2 S
  matrix,       ///< every output a weighted sum of every input
  table         ///< learned from a known-good controller, interpolated
};
enum class ReverseSteering { tank, car };  ///< tank: S keeps its sign for T<0; car: S flips

struct InputSpec {
  std::string name;  ///< controller input that carries it
  double low_us{1000}, centre_us{1500}, high_us{2000};
  bool reversed{false};
  DeadBandKind dead_band{DeadBandKind::none};
  double dead_band_half_us{0};        ///< half width around centre_us, us
  double dead_band_hysteresis_us{3};  ///< hysteresis only, h: in at half - h, out at half + h
  double dead_band_softness{0.1};     ///< soft only, c > 0
  bool square{false};                 ///< y = sgn(x) x^2, before expo
  double expo{0};                     ///< y = a x^3 + (1-a) x, 0..1
  double rate{1};                     ///< 0..1
  double slew_up{0}, slew_down{0};    ///< away from 0, and towards it: centre-to-end travels a second; 0: no limit. Bypassed on loss
};

struct OutputSpec {
  std::string name;  ///< controller output that carries it
  double low_us{1000}, neutral_us{1500}, high_us{2000};
  bool reversed{false};
  double reverse_limit{1};                         ///< y<0 -> rho y, 0..1
  double start_offset{0};                          ///< z, 0..<1: y becomes sgn(y) (z + |y| (1 - z)), 0 stays 0
  double trim_us{0};                               ///< added after the us map
  double clamp_low_us{1000}, clamp_high_us{2000};  ///< hard clamp
  std::optional<esc::Spec> esc;                    ///< what the output drives; none: the preset "direct" at these ends
};

/// What must happen when the link drops and returns.
struct LossSpec {
  double safe_within_ms{500};   ///< last valid falling edge -> outputs safe
  double safe_half_us{5};       ///< safe: |out - neutral| <= this (catalogue fault 23)
  bool pulses_may_stop{false};  ///< true: silence (line low) also counts as safe
  int tolerate_frames{3};       ///< this many lost frames must not trip it (catalogue fault 26)
};

struct ArmSpec {
  double neutral_ms{500};      ///< both sticks must rest at neutral this long before outputs leave neutral
  double neutral_half_us{25};  ///< what counts as stick neutral, us either side of centre
  double boot_ms{1000};        ///< power on -> first legal neutral pulse, at most (catalogue fault 57)
};

struct FrameSpec {
  double period_low_ms{14}, period_high_ms{25};  ///< output frame
  double nominal_ms{0};                          ///< what its program makes of it on a clock that is right; 0: not known
};

/// What the controller must make of a receiver's pulses.
struct ReceiverSpec {
  double accept_low_us{900}, accept_high_us{2100};  ///< widths within must be taken as stick positions
  double reject_low_us{700}, reject_high_us{2300};  ///< widths beyond must not (catalogue fault 9)
  double runt_us{300};                              ///< highs shorter than this must not move an output (catalogue fault 8)
  int wild_frames{0};                               ///< so many wild frames in a row must not show (catalogue fault 10)
  double period_low_ms{5}, period_high_ms{50};      ///< frames to be followed (catalogue faults 16, 17)
};

/// Output widths over a grid of stick positions, bilinear between them, flat beyond the first and the last.
struct Table {
  std::vector<double> throttle, steering;        ///< positions T and S, -1..1, rising, at least 2 each
  std::vector<std::vector<double>> left, right;  ///< us; a row a throttle position, a column a steering position
};

struct MixerSpec {
  std::string name;
  InputSpec throttle, steering;
  Law law{Law::proportional};
  double blend{0.5};  ///< k of the blend law, 0 throttle .. 1 steering
  ReverseSteering reverse_steering{ReverseSteering::tank};
  double wheel_limit{0.25};     ///< inner_wheel: below this |T| the pivot blends in; 0: the old form, with its jump
  double quick_turn{0.1};       ///< curvature: below this |T| the sides turn by S alone
  double gain_t{1}, gain_s{1};  ///< v_tail: g1, g2
  double pivot_scale{1};        ///< p: S (p + (1 - p) |T|); 1 none
  double speed_scale{0};        ///< k: S (1 - k |T|); 0 none
  OutputSpec left, right;
  std::vector<InputSpec> more_inputs;       ///< law matrix: beside throttle and steering
  std::vector<OutputSpec> more_outputs;     ///< law matrix: beside left and right
  std::vector<std::vector<double>> matrix;  ///< a row an output (left, right, more), a column an input (throttle, steering, more)
  Table table;                              ///< law table: us already, so of left and right only the clamp counts
  double turn_rest_ms{0};  ///< a track that was ahead rests at neutral this long before it goes back, and the sticks' slew waits; 0: none
  double latency_max_ms{50};  ///< input step -> output moved, worst (catalogue fault 59)
  LossSpec loss;
  ArmSpec arm;
  FrameSpec frame;
  double clock_percent{0};  ///< how far its clock may be off; with frame.nominal_ms, its widths are judged in its own microseconds
  ReceiverSpec receiver;
};

/// Inputs in the order throttle, steering, more_inputs; outputs in the order left, right, more_outputs.
inline std::vector<const InputSpec*> inputs(const MixerSpec& spec) {
  std::vector<const InputSpec*> all{&spec.throttle, &spec.steering};
  for (const InputSpec& in : spec.more_inputs) all.push_back(&in);
  return all;
}
inline std::vector<const OutputSpec*> outputs(const MixerSpec& spec) {
  std::vector<const OutputSpec*> all{&spec.left, &spec.right};
  for (const OutputSpec& out : spec.more_outputs) all.push_back(&out);
  return all;
}

}  // namespace midstick::mixer
