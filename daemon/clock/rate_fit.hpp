// Weighted least squares through clock exchanges: a line, or a parabola for a rate that moves.
//
// ns = b0 + b1 x + b2 x^2 with x = tick / half_span, in -1..1 over the window. How far off a rate may be comes from the residuals
// themselves (sandwich estimate with leverage correction, HC3: MacKinnon and White 1985, from memory), because the weights are only a guess
// at the errors. Errors are one standard error; infinite when the points cannot say. Pure, no threads, cannot fail. Ticks and ns relative
// to the window's middle; rates in ns per tick.
#pragma once

#include <vector>

namespace midstick::clock {

struct FitPoint {
  double tick, ns;  ///< middle of an exchange
  double error_ns;  ///< how far off the middle may be, about; weighs as 1/error^2
};

struct FittedRate {
  double rate, error;
};

struct FittedLine {
  FittedRate rate;
  double centre;  ///< weighted mean of the ticks: where a line stands for a rate that moves
};
/// Infinite error below 3 points.
FittedLine fitted_line(const std::vector<FitPoint>& points, double half_span);

struct FittedCurve {
  FittedRate first, last;  ///< at -half_span and at +half_span * (1 + ahead)
};
/// Of a parabola; infinite errors below 4 points.
FittedCurve fitted_curve(const std::vector<FitPoint>& points, double half_span, double ahead);

/// How much a parabola's rate changes from -half_span to +half_span. A path that is slower one way for a while pulls all points of that while
/// to one side, so errors within each of `blocks` stretches are not taken as independent (sandwich estimate with clusters: Liang and Zeger
/// 1986, from memory). Infinite error below 4 points or blocks.
FittedRate fitted_bend(const std::vector<FitPoint>& points, double half_span, int blocks);

}  // namespace midstick::clock
