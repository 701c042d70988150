// Reference model of the mixer spec: from input pulse widths to the interval each output must lie in.
//
// Pure functions, no state, no threads. Static part only: slew and latency are the caller's (it compares settled stretches).
#pragma once

#include "daemon/mixer/spec.hpp"

namespace midstick::mixer {

/// Closed interval in microseconds.
struct Interval {
  double low{0}, high{0};
  double mid() const { return (low + high) / 2; }
  bool contains(double x) const { return low <= x && x <= high; }
};

struct Outputs {
  double left_us{0}, right_us{0};
};
struct OutputIntervals {
  Interval left, right;
};

/// Stick position -1..1 from an input pulse width (normalise, dead band, expo, rate).
double stick(const InputSpec& in, double width_us);

/// Widest pulse the sender uses for a stick position x in -1..1 (inverse of normalise alone, no dead band), us.
double width_for_stick(const InputSpec& in, double x);

/// Mixed and saturated pair (L, R), each -1..1, from sticks T and S in -1..1. Laws and golden vectors: trade.md section 5.
struct Pair {
  double left{0}, right{0};
};
Pair mix(const MixerSpec& spec, double throttle, double steering);

/// Output widths the spec asks for with inputs of exactly these widths, us.
Outputs expected(const MixerSpec& spec, double throttle_us, double steering_us);

/// Range of outputs over inputs within +-`half_us` of the given widths (corners, centre and dead-band edges are evaluated), us.
OutputIntervals expected_within(const MixerSpec& spec, double throttle_us, double steering_us, double half_us);

}  // namespace midstick::mixer
