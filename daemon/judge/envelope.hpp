// The envelope: the widths that each output pulse may have at its instant, whatever the sticks and the link did before.
//
// Made from the stimulus that the board really sent, the power and reset events, and the mixer spec. A controller is followed in steps of
// 1 ms as the set of states it may be in: driving, at rest (not armed, or lost), or on its way between the two. The spec leaves much of
// that open, and then every state it allows is in the set:
//   - a pulse shows what was current at some instant of the last `latency_max_ms`, read to within `input_us`;
//   - widths between accept and reject, and the parts of a pulse with a short low inside, may count or not; beyond reject, and runts, must
//   not;
//   - a signal missed for longer than the tolerated frames may be a loss, one missed for `safe_within_ms` must be;
//   - a rest at neutral of `neutral_ms` may arm, one as long as every check's preamble must, power and resets disarm.
// So the envelope is a true bound: a pulse outside it breaks the spec. It is no tight one while sticks move fast. Pure; about 100 bytes for
// each ms of the segment; refers to plan and traffic, which must outlive it. Times are in ms since the segment's begin.
#pragma once

#include <optional>
#include <vector>

#include "daemon/judge/traffic.hpp"
#include "daemon/mixer/model.hpp"

namespace midstick::judge {

/// What a pulse had to be.
enum class Duty {
  follow,     ///< armed for certain: as the sticks say
  stay_safe,  ///< at rest for certain: not yet armed since power came, or since the segment began
  lost,       ///< at rest for certain: the signal was missed for too long, or it came back and the sticks have not rested since
  either      ///< the spec leaves it open
};

struct Allowed {
  Duty duty{Duty::either};
  bool drives{false}, rests{false}, between{false};  ///< the states it may be in
  mixer::Interval driven[2], rest[2];                ///< us, by Side
  mixer::Interval throttle_us, steering_us;          ///< widths that were current, without `input_us`
  bool lost_input[2]{false, false};                  ///< throttle, steering: missed for too long at this instant
  double since_power_ms{0};                          ///< since power or a reset in this segment; negative: none was

  /// How far outside a width is, us; 0 inside.
  double outside(Side s, double us) const;
  /// Everything allowed lies within.
  mixer::Interval hull(Side s) const;
};

class Envelope {
 public:
  Envelope(const script::Plan& plan, const Traffic& traffic, double frame_ms, double input_us);

  /// Nothing before both sticks are known, and for pulses that power or a reset cut off.
  std::optional<Allowed> at(const Pulse& pulse) const;
  /// Must there be pulses all along [begin, end]? Not without power, while it boots, and where the spec lets a safe output fall silent.
  bool must_pulse(BoardTime begin, BoardTime end) const;

 private:
  struct Instant {  ///< one ms
    mixer::Interval throttle_us, steering_us, throttle, steering;
    bool known{false}, off{false}, boots{false}, drives{false}, rests{false}, between{false};
    bool lost[2]{false, false}, ever_lost{false};
    float since_power_ms{-1};
  };
  class Follower;

  bool cut_off(double rise_ms, double fall_ms) const;
  std::size_t step(double ms) const;
  double ms(BoardTime t) const { return traffic_.ms(t - traffic_.segment().begin); }

  const script::Plan& plan_;
  const Traffic& traffic_;
  std::vector<Instant> instants_;
  struct Stretch {
    double from_ms, to_ms;
  };
  std::vector<Stretch> off_;       ///< without power, or held in reset
  std::vector<double> forced_ms_;  ///< instants at which rest begins for certain: nothing before them counts after them
};

}  // namespace midstick::judge
