#include "daemon/statistics/tolerance.hpp"

#include <boost/math/distributions/chi_squared.hpp>
#include <boost/math/distributions/non_central_t.hpp>
#include <boost/math/distributions/normal.hpp>
#include <boost/math/quadrature/gauss_kronrod.hpp>
#include <boost/math/tools/roots.hpp>
#include <cmath>

namespace midstick::statistics {
namespace {

using boost::math::chi_squared;
using boost::math::normal;

bool usable(int n, double share, double confidence) { return n >= 2 && share > 0 && share < 1 && confidence > 0 && confidence < 1; }

/// Half width r of an interval around x sds off the true mean that holds `share` of a standard normal.
double half_width(double x, double share) {
  const normal standard;
  double r = std::abs(x) + quantile(standard, share);  // nearly right far from the mean
  if (x < 1) r = quantile(standard, (1 + share) / 2) * (1 + x * x / 4);
  for (int i = 0; i < 60; ++i) {
    const double slope = pdf(standard, x + r) + pdf(standard, x - r);
    const double step = (cdf(standard, x + r) - cdf(standard, x - r) - share) / slope;
    r = std::max(r - step, r / 4);
    if (std::abs(step) < 1e-13 * r) break;
  }
  return r;
}

/// Chance that mean +- k sd of n values holds at least `share`.
double confidence_of(double k, int n, double share) {
  const double root = std::sqrt(static_cast<double>(n)), nu = n - 1;
  const chi_squared chi(nu);
  const auto slice = [&](double y) {  // y: distance of the found mean from the true one, in its own sds
    const double r = half_width(y / root, share);
    return 2 * pdf(normal(), y) * cdf(complement(chi, nu * r * r / (k * k)));
  };
  return boost::math::quadrature::gauss_kronrod<double, 61>::integrate(slice, 0.0, 9.0, 5, 1e-10);
}

}  // namespace

std::optional<double> tolerance_factor_howe(int n, double share, double confidence) {
  if (!usable(n, share, confidence)) return {};
  const double nu = n - 1, z = quantile(normal(), (1 + share) / 2);
  return std::sqrt(nu * (1 + 1.0 / n) * z * z / quantile(chi_squared(nu), 1 - confidence));
}

std::optional<double> tolerance_factor(int n, double share, double confidence) {
  const auto start = tolerance_factor_howe(n, share, confidence);
  if (!start) return {};
  std::uintmax_t most = 100;
  const auto bracket = boost::math::tools::bracket_and_solve_root([&](double k) { return confidence_of(k, n, share) - confidence; }, *start,
                                                                  1.1, true, boost::math::tools::eps_tolerance<double>(36), most);
  return (bracket.first + bracket.second) / 2;
}

std::optional<double> tolerance_factor_one_sided(int n, double share, double confidence) {
  if (!usable(n, share, confidence)) return {};
  const double root = std::sqrt(static_cast<double>(n));
  return quantile(boost::math::non_central_t(n - 1, quantile(normal(), share) * root), confidence) / root;
}

}  // namespace midstick::statistics
