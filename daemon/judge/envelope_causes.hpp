// What pulses outside the envelope are consistent with.
//
// Looks at the kind of instant they come from (after a loss, while driving, at power-up), and asks of changed mixer specs whether one
// explains them: a plain clip, steering that flips, no dead band. Modest: where the numbers fit nothing, it names nothing. Pure.
#pragma once

#include <vector>

#include "daemon/judge/envelope.hpp"

namespace midstick::judge {

/// A pulse that is outside for certain.
struct Outlier {
  const Traffic* traffic{nullptr};
  Side side{Side::left};
  Pulse pulse;
  Allowed allowed;
  double us{0}, outside_us{0};
  bool lasting{false};  ///< one of three or more in a row
};

std::vector<Cause> causes_of(const script::Plan& plan, const std::vector<Outlier>& outliers, double input_us, double tolerance_us);

}  // namespace midstick::judge
