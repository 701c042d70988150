// Reference model of the mixer spec: from input pulse widths to the interval each output must lie in.
//
// Pure functions, no state, no threads, no failure. Static part only: slew is in slew.hpp, latency is the caller's (it compares settled
// stretches, or takes the widths of a stretch of time as an interval). An interval is a true bound: whatever inputs lie inside the given
// ranges, the outputs lie inside the interval, jumps of dead bands and laws and both states of a hysteresis included. It is tight, but
// for pivot and speed scale, where it takes throttle and scaled steering as free of one another.
#pragma once

#include <span>
#include <vector>

#include "daemon/mixer/spec.hpp"

namespace midstick::mixer {

/// Closed interval, mostly in microseconds.
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

/// Stick position -1..1 from an input pulse width (normalise, dead band, square, expo, rate). Hysteresis: as a jump at its middle.
double stick(const InputSpec& in, double width_us);
/// Every position that widths within `width_us` can mean; hysteresis: in either state.
Interval stick_within(const InputSpec& in, Interval width_us);

/// Widest pulse the sender uses for a stick position x in -1..1 (inverse of normalise alone, no dead band), us.
double width_for_stick(const InputSpec& in, double x);

/// Mixed and saturated pair (L, R), each -1..1, from sticks T and S in -1..1. Law table: its widths as shares of the outputs' travel.
struct Pair {
  double left{0}, right{0};
};
Pair mix(const MixerSpec& spec, double throttle, double steering);

/// Output widths the spec asks for with inputs of exactly these widths, us; further inputs rest at their centres.
Outputs expected(const MixerSpec& spec, double throttle_us, double steering_us);

/// Range of outputs over inputs within +-`half_us` of the given widths, us.
OutputIntervals expected_within(const MixerSpec& spec, double throttle_us, double steering_us, double half_us);
/// The same from ranges of stick positions, as slew leaves them.
OutputIntervals outputs_within(const MixerSpec& spec, Interval throttle, Interval steering);

/// Widths of all outputs from widths of all inputs (inputs() says the order; too few: the others rest at their centres), us.
std::vector<double> expected_all(const MixerSpec& spec, std::span<const double> widths_us);
/// Ranges of all outputs over inputs within +-`half_us`, us.
std::vector<Interval> expected_all_within(const MixerSpec& spec, std::span<const double> widths_us, double half_us);

}  // namespace midstick::mixer
