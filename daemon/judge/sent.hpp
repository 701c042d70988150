// The sticks as the bench really sent them, sample by sample, and what the spec asks of a side for every stick position that a controller
// may have acted on in a stretch of time. Pure values and functions; slew is the caller's.
#pragma once

#include <optional>
#include <vector>

#include "daemon/judge/traffic.hpp"
#include "daemon/mixer/model.hpp"

namespace midstick::judge {

/// Both inputs as a controller knows them from this fall on.
struct Sent {
  BoardTime fall;
  double throttle_us{0}, steering_us{0};
  mixer::Interval asked[2];  ///< of each side, us, by Side
};

/// Every fall on either input once both have sent, in order. `input_us`: what the controller may read wrong.
std::vector<Sent> sent(const script::Plan& plan, const Traffic& traffic, double input_us);

/// Hull of what is asked over the samples valid at any time in [from, to]; nothing before the first.
std::optional<mixer::Interval> asked_between(const std::vector<Sent>& samples, Side side, BoardTime from, BoardTime to);

}  // namespace midstick::judge
