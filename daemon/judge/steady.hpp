// Outputs that should rest, and what they did instead: shared by the checks that disturb the receiver's pulses while the sticks stand
// still.
//
// The rest is measured, not modelled: a controller that mixes wrongly still has to keep still, and only that is asked here. Pure functions;
// widths are us of true time.
#pragma once

#include <optional>

#include "daemon/judge/traffic.hpp"

namespace midstick::judge {

/// Time after an input pulse until the outputs must have come to rest, ms: the spec's latency, its slew over `travels` full travels
/// (0..2), and two output frames.
double settled_after_ms(const script::Plan& plan, double travels = 1);

/// The plan's receiver frame without its dither: a move of n frames then loses n frames, neither more nor fewer.
script::ReceiverFrame exact_frames(const script::Plan& plan);

/// Median width of the pulses that rise and fall within [begin, end]; nothing with fewer than two.
std::optional<double> rest_us(const Traffic& traffic, Side side, BoardTime begin, BoardTime end);

/// What an output did over (begin, end], seen from its rest.
struct Departure {
  std::int64_t pulses{0};                ///< looked at
  std::int64_t away{0};                  ///< of them, off by more than allowed and their own uncertainty
  std::optional<Pulse> furthest;         ///< of all
  double furthest_us{0};                 ///< its signed distance
  std::optional<BoardTime> first, last;  ///< falls of the first and the last one away
};
Departure departure(const Traffic& traffic, Side side, double rest, double allowed_us, BoardTime begin, BoardTime end);

/// The mark before `mark` in its segment; null for the first.
const capture::Mark* mark_before(const Traffic& traffic, const capture::Mark& mark);
/// The first mark with this label after `after`; null when there is none.
const capture::Mark* next_mark(const Traffic& traffic, const std::string& label, BoardTime after);

}  // namespace midstick::judge
