// Least squares for any curve of a few parameters, with their covariance. Thin over GSL's trust-region solver.
//
// y scatters evenly about the curve, x is exact. u are standard uncertainties (k = 1) from the scatter alone; u95() widens by Student's t.
// Pure. Nothing when there are fewer than two points more than parameters, when the solver does not converge, or when the points do not
// determine a parameter.
#pragma once

#include <functional>
#include <optional>
#include <span>
#include <vector>

namespace midstick::sweep {

struct CurveFit {
  std::vector<double> p, u;
  double sd{0};  ///< of a point about the curve
  int freedom{0};
  double u95(std::size_t i) const;
};

using Curve = std::function<double(const std::vector<double>& p, double x)>;

std::optional<CurveFit> fit_curve(const Curve& curve, const std::vector<double>& start, std::span<const double> x,
                                  std::span<const double> y);

}  // namespace midstick::sweep
