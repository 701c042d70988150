// A plot axis: a range of data mapped onto pixels, with ticks at 1, 2 or 5 times a power of ten.
//
// Values are in the data's own unit, pixels in SVG user units. Pure; a range that is empty or not finite is widened so that every
// axis has a length and at least one tick.
#pragma once

#include <string>
#include <vector>

namespace midstick::report {

struct Range {
  double low{0}, high{0};
  bool empty{true};
  void add(double value);  ///< ignored when not finite
  double length() const { return high - low; }
};

/// A range with a length: `margin` (share of the length) added on each side; an empty one becomes 0..1.
Range widened(const Range& range, double margin);

/// Ticks inside a range from widened(), about `wanted` of them, 1-2-5 steps.
struct Ticks {
  double step{1};
  std::vector<double> at;
};
Ticks nice_ticks(const Range& range, int wanted);

/// Text for a tick with as many decimals as the step needs.
std::string tick_label(double value, double step);

/// Maps data to pixels; `from` is the pixel of range.low. Results are clamped to a sane distance outside the plot.
struct Scale {
  Range range;
  double from{0}, to{1};
  double operator()(double value) const;
};

}  // namespace midstick::report
