// General linear least squares with the covariance of its coefficients. Pure functions; any unit.
//
// The model is y = X b, the columns of X whatever the caller chose: powers of x, several sticks, with or without a constant column. X is
// exact, y scattered evenly (or as 1/sqrt(weight)). Solved by a pivoting Householder QR of the scaled columns in long double, never by
// normal equations, which lose half the digits. Uncertainties are standard (k = 1), from the scatter alone. For a straight line use
// line_fit.hpp.
#pragma once

#include <cstddef>
#include <optional>
#include <span>
#include <vector>

namespace midstick::statistics {

struct LinearFit {
  std::vector<double> coefficients;  ///< one a column of X
  std::vector<double> covariance;    ///< of the coefficients, row by row
  double residual_sum{0};            ///< sum w r^2
  double residual_sd{0};             ///< sqrt(residual_sum / dof); of a point with weight 1
  double r_squared{0};  ///< share of the (weighted) square of y explained: about its mean when X has a constant column, else about zero
  int dof{0};           ///< points - columns, at least 1

  double u(std::size_t coefficient) const;  ///< standard uncertainty of one coefficient
};

/// `design` is X row by row, y.size() rows of `columns` each. Weights are relative: 1/variance of each y; none means all alike. Nothing for
/// sizes that do not fit together, fewer than columns + 1 points, a weight that is not positive, a value that is not finite, or columns
/// that cannot be told apart (rank below `columns`).
std::optional<LinearFit> fit_linear(std::span<const double> design, std::size_t columns, std::span<const double> y,
                                    std::span<const double> weights = {});

/// y = b0 + b1 x + ... + b_degree x^degree. High degrees lose digits: of StRD's degree 10 (Filip) about ten remain.
std::optional<LinearFit> fit_polynomial(std::span<const double> x, std::size_t degree, std::span<const double> y,
                                        std::span<const double> weights = {});

}  // namespace midstick::statistics
