// Slew of a stick: its position may move away from centre by `slew_up` and towards it by `slew_down`, in centre-to-end travels a second.
//
// The one stage of the spec that remembers. A stick thrown from end to end first falls to centre at the one rate, then rises at the other.
// A rate of 0 is no limit. On loss and on a stop the stage is bypassed: `jump_to`. Positions are those after expo and rate, -1..1, times
// are seconds of true time. Plain values, no threads, cannot fail; a negative time counts as none.
#pragma once

#include "daemon/mixer/model.hpp"
#include "daemon/mixer/spec.hpp"

namespace midstick::mixer {

class SlewedStick {
 public:
  explicit SlewedStick(const InputSpec& in, double at = 0) : up_(in.slew_up), down_(in.slew_down), at_(at) {}

  /// Move towards `target` for `seconds`; the new position.
  double advance(double target, double seconds);
  /// Bypass: be there at once.
  void jump_to(double position) { at_ = position; }
  double position() const { return at_; }

 private:
  double up_, down_, at_;
};

/// The same for a target and a time that are known only to lie within bounds: every stick that a controller may have held by now lies in
/// position(). Slewed sticks never overtake one another, so the bounds of the targets bound the positions.
class SlewedRange {
 public:
  explicit SlewedRange(const InputSpec& in, Interval at = {}) : low_(in, at.low), high_(in, at.high) {}

  /// Each moved towards its own bound of `target` for any time between `seconds_low` and `seconds_high`.
  Interval advance(Interval target, double seconds_low, double seconds_high);
  void jump_to(Interval position) { low_.jump_to(position.low), high_.jump_to(position.high); }
  Interval position() const { return {low_.position(), high_.position()}; }

 private:
  SlewedStick low_, high_;
};

/// Time that a stick takes from position `from` to `to`, s; 0 without a limit on the way.
double slew_seconds(const InputSpec& in, double from, double to);

/// Time that the machine takes when its sticks go from `from` to `to` (left: throttle, right: steering; after expo and rate), s: their
/// slew, and the rest of each track that turns round from ahead on the way.
double settle_seconds(const MixerSpec& spec, Pair from, Pair to);

/// The longest that any stick of the spec takes from end to end, with both tracks turning round, s.
double longest_slew_seconds(const MixerSpec& spec);

}  // namespace midstick::mixer
