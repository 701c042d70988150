#include "daemon/statistics/line_fit.hpp"

#include <cmath>
#include <cstddef>

namespace midstick::statistics {
namespace {

bool usable(std::span<const double> x, std::span<const double> y, std::span<const double> weights) {
  if (x.size() < 3 || y.size() != x.size() || (!weights.empty() && weights.size() != x.size())) return false;
  for (std::size_t i = 0; i < x.size(); ++i) {
    if (!std::isfinite(x[i]) || !std::isfinite(y[i])) return false;
    if (!weights.empty() && !(weights[i] > 0 && std::isfinite(weights[i]))) return false;
  }
  return true;
}

}  // namespace

double LineFit::u(double x) const { return std::hypot(u_mean, (x - mean_x) * u_slope); }

std::optional<LineFit> fit_line(std::span<const double> x, std::span<const double> y, std::span<const double> weights) {
  if (!usable(x, y, weights)) return {};
  const auto weight = [&](std::size_t i) -> long double { return weights.empty() ? 1 : weights[i]; };
  // Sums of deviations from the first point, in the widest type at hand: board times are large and their differences small.
  long double all = 0, sum_x = 0, sum_y = 0;
  for (std::size_t i = 0; i < x.size(); ++i) {
    all += weight(i);
    sum_x += weight(i) * (static_cast<long double>(x[i]) - x[0]);
    sum_y += weight(i) * (static_cast<long double>(y[i]) - y[0]);
  }
  const long double mean_x = x[0] + sum_x / all, mean_y = y[0] + sum_y / all;
  long double sxx = 0, sxy = 0;
  for (std::size_t i = 0; i < x.size(); ++i) {
    sxx += weight(i) * (x[i] - mean_x) * (x[i] - mean_x);
    sxy += weight(i) * (x[i] - mean_x) * (y[i] - mean_y);
  }
  if (!(sxx > 0)) return {};
  const long double slope = sxy / sxx;
  long double square = 0;
  for (std::size_t i = 0; i < x.size(); ++i) {
    const long double residual = y[i] - mean_y - slope * (x[i] - mean_x);
    square += weight(i) * residual * residual;
  }

  LineFit f;
  f.dof = static_cast<int>(x.size()) - 2;
  const long double variance = square / f.dof;
  f.slope = static_cast<double>(slope);
  f.intercept = static_cast<double>(mean_y - slope * mean_x);
  f.mean_x = static_cast<double>(mean_x);
  f.residual_sd = static_cast<double>(std::sqrt(variance));
  f.u_mean = static_cast<double>(std::sqrt(variance / all));
  f.u_slope = static_cast<double>(std::sqrt(variance / sxx));
  f.covariance = static_cast<double>(-mean_x * variance / sxx);
  f.u_intercept = f.u(0);
  return f;
}

}  // namespace midstick::statistics
