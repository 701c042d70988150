// Straight line by least squares, with the uncertainty of everything it says. Pure functions; any unit.
//
// The model is y = intercept + slope x, x exact, y scattered evenly (or as 1/sqrt(weight)) around the line. All u are standard
// uncertainties (k = 1) from the scatter of these points alone: widen by Student's t with `dof` for a 95 % statement, and add what is
// common to all points (a bench's own error) yourself: scatter cannot show it.
// It is not a test that the points lie on a line: look at the residuals for that.
#pragma once

#include <optional>
#include <span>

namespace midstick::statistics {

struct LineFit {
  double intercept{0}, slope{0};      ///< unit of y, unit of y per unit of x
  double u_intercept{0}, u_slope{0};  ///< standard uncertainties
  double covariance{0};               ///< of intercept and slope
  double residual_sd{0};              ///< sqrt(sum w r^2 / dof); of a point with weight 1
  int dof{0};                         ///< points - 2, at least 1
  double mean_x{0}, u_mean{0};        ///< weighted centre of x, and the uncertainty of the line there: its smallest

  double value(double x) const { return intercept + slope * x; }
  /// Standard uncertainty of value(x): of the line, not of a further single point. JCGM 100:2008 eq. H.15, written about the centre so that
  /// no digits are lost far from x = 0.
  double u(double x) const;
};

/// Weights are relative (only their ratios matter): 1/variance of each y. None means all alike. Nothing for sizes that differ, fewer than
/// three points, a weight that is not positive, a value that is not finite, or all x the same.
std::optional<LineFit> fit_line(std::span<const double> x, std::span<const double> y, std::span<const double> weights = {});

}  // namespace midstick::statistics
