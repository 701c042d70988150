// What the zoo's correct controllers do, from their own sources: constants and functions of the headers that their programs are built from.
#pragma once

#include <functional>
#include <string>

namespace midstick::sweep::test {

/// Everything in us. `output` is the settled answer to both sticks, from outside any dead band with hysteresis.
struct Truth {
  double centre, lowest_in, highest_in;  ///< stick: where it is cut
  double leaving, entering;              ///< dead band, either side of centre
  bool jumps;                            ///< its edge
  double neutral, lowest, highest;       ///< outputs
  std::function<double(double throttle, double steering, bool left)> output;
};

/// `style` of the zoo: drive, blend, reverse, capture, pinchange, fast.
Truth truth_of(const std::string& style);

}  // namespace midstick::sweep::test
