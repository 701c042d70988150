// Inside of the reference model: the mix and the output stage, exact and over ranges. Not for use outside daemon/mixer.
#pragma once

#include "daemon/mixer/model.hpp"

namespace midstick::mixer {

inline void widen(Interval& range, double value) {
  if (value < range.low) range.low = value;
  if (value > range.high) range.high = value;
}

/// Every pair that sticks within the two ranges can give.
struct PairIntervals {
  Interval left, right;
};
PairIntervals mix_within(const MixerSpec& spec, Interval throttle, Interval steering);

/// Steering as the law sees it: scaled, and turned round in reverse if the spec says so.
double steering_for_law(const MixerSpec& spec, double throttle, double steering);
/// The same over ranges; `throttle` must not have both signs.
Interval steering_for_law_within(const MixerSpec& spec, Interval throttle, Interval steering, bool backwards);

/// The parts of a range on either side of 0; the part that holds 0 alone counts as forward.
struct Half {
  Interval throttle;
  bool backwards;
};
std::vector<Half> halves(Interval throttle);

/// Reverse limit, us map with start offset, trim, clamp. Monotonic in y.
double output_us(const OutputSpec& out, double y);
Interval output_within(const OutputSpec& out, Interval y);

/// Law table, us: clamped, as the spec's last word.
Outputs from_table(const MixerSpec& spec, double throttle, double steering);
OutputIntervals from_table_within(const MixerSpec& spec, Interval throttle, Interval steering);

}  // namespace midstick::mixer
