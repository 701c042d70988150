// A mixer law learned from a controller known to be good: readings of its outputs on a grid of held stick positions become a Table.
//
// Pure. Order of the readings does not matter, a position read twice gives the mean. Between the positions of the grid the table is
// bilinear, so it is no better than the grid is fine: lay positions at the edges of dead bands and where a law saturates.
#pragma once

#include <span>

#include "daemon/core/result.hpp"
#include "daemon/mixer/spec.hpp"

namespace midstick::mixer {

struct LearnedPoint {
  double throttle{0}, steering{0};  ///< stick positions -1..1, by normalising alone
  double left_us{0}, right_us{0};   ///< settled outputs
};

/// Two positions closer than this are the same line of the grid: half a percent of travel.
inline constexpr double kSamePosition = 0.005;

/// Error{bad_file} when the readings do not fill a grid of at least 2 by 2: it names the first position without one, in percent.
Result<Table> learn_table(std::span<const LearnedPoint> points);

}  // namespace midstick::mixer
