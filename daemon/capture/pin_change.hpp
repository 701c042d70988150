// Error bounds of pin change stamps, once all edges are known.
//
// A pin change is stamped by an interrupt, so another interrupt just before it holds the stamp up. The board flags what it can see itself;
// this flags every pin change edge with any other edge, stimulus or response, shortly before, and widens its bound to what the board states
// for that. Input capture stamps come from hardware and are left alone. Pure, no threads, cannot fail. Board ticks.
#pragma once

#include <vector>

#include "daemon/capture/capture.hpp"
#include "protocol/messages.hpp"

namespace midstick::capture {

/// How near another edge must be to make a stamp doubtful, ticks (10 us).
inline constexpr BoardSpan kCrowdedWithin{160};

/// Set `crowded` and `half_width` of the pin change edges in `response`. Both lists sorted by time. `hello` gives lines and bounds.
void bound_pin_changes(const std::vector<Edge>& stimulus, std::vector<Edge>& response, const protocol::Hello& hello);

}  // namespace midstick::capture
