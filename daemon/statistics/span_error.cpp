#include "daemon/statistics/span_error.hpp"

#include <algorithm>
#include <boost/math/constants/constants.hpp>
#include <cmath>
#include <tuple>

namespace midstick::statistics {
namespace {

/// A rectangle of width `a` less one of width `b`, the lowest sum at `low`: a trapezoid.
struct Trapezoid {
  double low, a, b, weight;
  double high() const { return low + a + b; }
};

double normal_cdf(double z) { return 0.5 * std::erfc(-z / boost::math::constants::root_two<double>()); }
double normal_pdf(double z) { return std::exp(-z * z / 2) / boost::math::constants::root_two_pi<double>(); }

/// Integrals of the normal distribution function with deviation `sd`, once and twice.
double once(double x, double sd) { return x * normal_cdf(x / sd) + sd * normal_pdf(x / sd); }
double twice(double x, double sd) { return ((x * x + sd * sd) * normal_cdf(x / sd) + x * sd * normal_pdf(x / sd)) / 2; }

/// Distribution function of trapezoid + normal: differences of the integrals above, one for each rectangle.
double below(const Trapezoid& t, double x, double sd) {
  if (x - t.high() > 9 * sd) return 1;
  if (t.low - x > 9 * sd) return 0;
  const double wide = std::max(t.a, t.b), narrow = std::min(t.a, t.b), from = x - t.low;
  // Also where the rectangles are nothing beside the normal: differences of its integrals would be lost in rounding.
  if (wide + narrow < 1e-3 * sd) return normal_cdf((from - (wide + narrow) / 2) / sd);
  if (narrow <= 0) return (once(from, sd) - once(from - wide, sd)) / wide;
  return (twice(from, sd) - twice(from - wide, sd) - twice(from - narrow, sd) + twice(from - wide - narrow, sd)) / (wide * narrow);
}

/// All pairs; those that fall together are merged, or two measured distributions would make a thousand.
std::vector<Trapezoid> differences(const EndError& begin, const EndError& end) {
  std::vector<Trapezoid> all;
  double sum = 0;
  for (const Rectangle& e : end)
    for (const Rectangle& b : begin) {
      all.push_back({e.low - b.high, e.high - e.low, b.high - b.low, e.weight * b.weight});
      sum += e.weight * b.weight;
    }
  const auto order = [](const Trapezoid& x, const Trapezoid& y) { return std::tie(x.low, x.a, x.b) < std::tie(y.low, y.a, y.b); };
  std::sort(all.begin(), all.end(), order);
  std::vector<Trapezoid> merged;
  for (const Trapezoid& t : all) {
    if (merged.empty() || order(merged.back(), t)) merged.push_back({t.low, t.a, t.b, 0});
    merged.back().weight += t.weight / sum;
  }
  return merged;
}

/// No normal part at all would divide by zero; this much changes no digit that counts.
double least_sd(const std::vector<Trapezoid>& all, double sd) {
  double reach = 0;
  for (const Trapezoid& t : all) reach = std::max({reach, std::abs(t.low), std::abs(t.high())});
  return std::max(sd, 1e-6 * reach + 1e-12);
}

double covered(const std::vector<Trapezoid>& all, double sd, double half) {
  double p = 0;
  for (const Trapezoid& t : all) p += t.weight * (below(t, half, sd) - below(t, -half, sd));
  return p;
}

}  // namespace

double covered(const EndError& begin, const EndError& end, double normal_sd, double half) {
  const auto all = differences(begin, end);
  return covered(all, least_sd(all, normal_sd), half);
}

double half_width(const EndError& begin, const EndError& end, double normal_sd, double confidence) {
  const auto all = differences(begin, end);
  const double sd = least_sd(all, normal_sd);
  double low = 0, high = 0;
  for (const Trapezoid& t : all) high = std::max({high, std::abs(t.low), std::abs(t.high())});
  high += 9 * sd;
  for (int i = 0; i < 60 && high - low > 1e-7 * high; ++i) {
    const double middle = (low + high) / 2;
    (covered(all, sd, middle) < confidence ? low : high) = middle;
  }
  return high;
}

}  // namespace midstick::statistics
