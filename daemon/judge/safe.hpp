// Is an output safe, since when, and what did it do on the way: shared by signal loss, recovery and power-up.
//
// Safe is a width within the spec's half width of neutral (trade practice, no published source), or silence where the spec lets pulses
// stop. Silence begins when a pulse is overdue by twice the spec's longest frame. A line that is stuck high is never safe. Pure functions.
#pragma once

#include <optional>

#include "daemon/judge/extreme.hpp"

namespace midstick::judge {

/// Of a time to safe that the watch did not see the end of; for never_came().
inline constexpr const char* kNeverSafe = "never safe";

struct SafeWatch {
  std::optional<BoardTime> safe_at;  ///< from here to the end it stayed safe; nothing: it never did
  std::uint16_t safe_half{1};        ///< bound on that stamp, ticks
  bool silent{false};                ///< it ended in silence
  bool stuck_high{false};            ///< it ended, or was for longer than any pulse, high
  std::int64_t pulses{0};            ///< pulses that fell in the stretch
  std::int64_t unsafe{0};            ///< of them, clearly outside the safe width
  Extreme level;                     ///< distance from neutral since it has been safe, us, against the spec's half width
  Extreme off;                       ///< distance from neutral in the whole stretch, us, likewise
  Extreme kick;                      ///< excursion outside the hull of `last` and the safe widths, us, >= 0, against `kick_us`
};

/// Watch one output over (from, until]. `last_us`: its width before, NaN where there is no way to watch; `kick_us`: excursion allowed.
SafeWatch watch_safe(const script::Plan& plan, const Traffic& traffic, Side side, BoardTime from, BoardTime until, double last_us,
                     double kick_us);

/// Mean width of the output's last `count` pulses before `t`; NaN when there are none.
double mean_before(const Traffic& traffic, Side side, BoardTime t, int count);

/// Was the output driven at `t`: at least half as far from neutral as the spec asks for the sticks sent last? Without that, being safe
/// later proves nothing. True where the spec asks for less than 20 us.
bool driven(const script::Plan& plan, const Traffic& traffic, Side side, BoardTime t);
/// Both outputs.
bool driven(const script::Plan& plan, const Traffic& traffic, BoardTime t);

/// Did neither output ever move although the spec asks for it somewhere: a controller that does not arm, or whose inputs are not wired?
/// What such outputs keep still proves nothing.
bool never_driven(const script::Plan& plan, const std::vector<Traffic>& all);

/// The last pulse of an input before `t` that a receiver could have sent: shorter than 5 ms. Null when there is none.
const Pulse* last_valid(const Traffic& traffic, const PulseTrain& input, BoardTime t);

}  // namespace midstick::judge
