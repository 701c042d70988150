// How far off a span may be when it is the difference of two readings whose errors are known to lie in rectangles, and its clock is known
// to a normal distribution: the distributions are propagated, not only their standard uncertainties (JCGM 101:2008 5.3.2, done exactly
// instead of by Monte Carlo). JCGM 100:2008 G.1.3 and G.6.5 say why k = 2 is wrong for one or two rectangles: it gives more than their
// whole width.
//
// Any unit, the same everywhere. Pure functions; cannot fail.
#pragma once

#include <vector>

namespace midstick::statistics {

/// The error (reading less truth) lies between `low` and `high` with this probability, anywhere alike; low == high is a single value.
struct Rectangle {
  double low{0}, high{0};
  double weight{1};
};
/// The error of one end: rectangles side by side. Weights need not sum to 1 (they are scaled), but must not all be 0.
using EndError = std::vector<Rectangle>;

/// Smallest half width about the reading that holds `confidence` of end - begin + normal. What the errors have in the mean is not taken out
/// of the reading, so it is in the half width (JCGM 100:2008 F.2.4.5). `normal_sd` >= 0; `confidence` in (0, 1). Good to 1e-6 of the
/// result.
double half_width(const EndError& begin, const EndError& end, double normal_sd, double confidence = 0.95);

/// Probability that |end - begin + normal| <= `half`.
double covered(const EndError& begin, const EndError& end, double normal_sd, double half);

}  // namespace midstick::statistics
