// The mixer specification: what the controller is meant to do, as numbers.
//
// It fixes the order of operations, since each order gives other numbers (trade practice, no published source):
//   normalise -> dead band -> expo -> rate -> mix -> saturate -> slew -> reverse limit -> trim and us map -> hard clamp
// Sticks are -1..1 inside, percent in files; pulse widths are microseconds of true time. Plain values, no failure here: the
// loader (script/load) has already checked ranges. Two inputs named by `throttle` and `steering`, two outputs by `left`, `right`.
#pragma once

#include <string>

namespace midstick::mixer {

enum class DeadBandKind { none, jump, continuous };
enum class Law { clip, proportional, throttle_priority, steering_priority, blend, halved };
enum class ReverseSteering { tank, car };  ///< tank: S keeps its sign for T<0; car: S flips

struct InputSpec {
  std::string name;  ///< controller input that carries it
  double low_us{1000}, centre_us{1500}, high_us{2000};
  bool reversed{false};
  DeadBandKind dead_band{DeadBandKind::none};
  double dead_band_half_us{0};  ///< half width around centre_us, us
  double expo{0};               ///< y = a x^3 + (1-a) x, 0..1
  double rate{1};               ///< 0..1
};

struct OutputSpec {
  std::string name;  ///< controller output that carries it
  double low_us{1000}, neutral_us{1500}, high_us{2000};
  bool reversed{false};
  double reverse_limit{1};                         ///< y<0 -> rho y, 0..1
  double trim_us{0};                               ///< added after the us map
  double clamp_low_us{1000}, clamp_high_us{2000};  ///< hard clamp
};

/// What must happen when the link drops and returns.
struct LossSpec {
  double safe_within_ms{500};   ///< last valid falling edge -> outputs safe
  double safe_half_us{5};       ///< safe: |out - neutral| <= this (trade.md fault 23)
  bool pulses_may_stop{false};  ///< true: silence (line low) also counts as safe
  int tolerate_frames{3};       ///< this many lost frames must not trip it (trade.md fault 26)
};

struct ArmSpec {
  double neutral_ms{500};      ///< both sticks must rest at neutral this long before outputs leave neutral
  double neutral_half_us{25};  ///< what counts as stick neutral, us either side of centre
  double boot_ms{1000};        ///< power on -> first legal neutral pulse, at most (trade.md fault 57)
};

struct FrameSpec {
  double period_low_ms{14}, period_high_ms{25};  ///< output frame (trade.md fault 42)
};

struct MixerSpec {
  std::string name;
  InputSpec throttle, steering;
  Law law{Law::proportional};
  double blend{0.5};  ///< k of the blend law, 0 throttle .. 1 steering
  ReverseSteering reverse_steering{ReverseSteering::tank};
  OutputSpec left, right;
  double latency_max_ms{50};  ///< input step -> output moved, worst (trade.md fault 59)
  LossSpec loss;
  ArmSpec arm;
  FrameSpec frame;
};

}  // namespace midstick::mixer
