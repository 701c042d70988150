#include "daemon/statistics/control_chart.hpp"

#include <algorithm>
#include <boost/math/distributions/normal.hpp>
#include <boost/math/quadrature/gauss_kronrod.hpp>
#include <cmath>

namespace midstick::statistics {
namespace {

/// Expectation of the range W of n standard normal values, and of its square: E W = int P(W > w) dw, E W^2 = int 2 w P(W > w) dw, with
/// P(W <= w) = n int phi(x) (Phi(x + w) - Phi(x))^(n - 1) dx.
std::pair<double, double> range_moments(int n) {
  using Rule = boost::math::quadrature::gauss_kronrod<double, 61>;
  const boost::math::normal normal;
  constexpr double kFar = 9;  // beyond it a normal value has a chance of 1e-19
  constexpr unsigned kHalvings = 4;
  constexpr double kTolerance = 1e-12;
  const auto beyond = [&](double w) {
    const auto slice = [&](double x) { return n * pdf(normal, x) * std::pow(cdf(normal, x + w) - cdf(normal, x), n - 1); };
    return 1 - Rule::integrate(slice, -kFar, kFar, kHalvings, kTolerance);
  };
  return {Rule::integrate(beyond, 0.0, 2 * kFar, kHalvings, kTolerance),
          Rule::integrate([&](double w) { return 2 * w * beyond(w); }, 0.0, 2 * kFar, kHalvings, kTolerance)};
}

}  // namespace

std::vector<CusumPoint> cusum(std::span<const double> values, const CusumPlan& plan) {
  std::vector<CusumPoint> points;
  CusumPoint last;
  for (const double v : values) {
    last.high = std::max(0.0, last.high + (v - plan.target) - plan.allowance);
    last.low = std::max(0.0, last.low - (v - plan.target) - plan.allowance);
    points.push_back(last);
  }
  return points;
}

std::optional<CusumAlarm> first_alarm(std::span<const CusumPoint> points, const CusumPlan& plan) {
  std::size_t high_from = 0, low_from = 0;
  for (std::size_t i = 0; i < points.size(); ++i) {
    if (points[i].high <= 0) high_from = i + 1;
    if (points[i].low <= 0) low_from = i + 1;
    const bool upward = points[i].high > plan.decision;
    if (!upward && !(points[i].low > plan.decision)) continue;
    const std::size_t began = upward ? high_from : low_from;
    const double shift = plan.allowance + (upward ? points[i].high : points[i].low) / static_cast<double>(i - began + 1);
    return CusumAlarm{i, began, upward, upward ? shift : -shift};
  }
  return {};
}

std::vector<EwmaPoint> ewma(std::span<const double> values, const EwmaPlan& plan) {
  std::vector<EwmaPoint> points;
  double mean = plan.target, forgotten = 1;  // (1 - weight)^(2 t)
  for (const double v : values) {
    mean += plan.weight * (v - mean);
    forgotten *= (1 - plan.weight) * (1 - plan.weight);
    const double half = plan.limit * plan.sigma * std::sqrt(plan.weight / (2 - plan.weight) * (1 - forgotten));
    points.push_back({mean, plan.target - half, plan.target + half});
  }
  return points;
}

std::optional<ShewhartConstants> shewhart_constants(int n) {
  if (n < 2 || n > 1000) return {};
  ShewhartConstants s;
  s.c4 = std::sqrt(2.0 / (n - 1)) * std::exp(std::lgamma(n / 2.0) - std::lgamma((n - 1) / 2.0));
  const auto [mean, square] = range_moments(n);
  s.d2 = mean;
  s.d3 = std::sqrt(square - mean * mean);
  const double root = std::sqrt(static_cast<double>(n));
  s.a2 = 3 / (s.d2 * root);
  s.a3 = 3 / (s.c4 * root);
  const double of_sd = 3 * std::sqrt(1 - s.c4 * s.c4) / s.c4, of_range = 3 * s.d3 / s.d2;
  s.b3 = std::max(0.0, 1 - of_sd);
  s.b4 = 1 + of_sd;
  s.big_d3 = std::max(0.0, 1 - of_range);
  s.big_d4 = 1 + of_range;
  return s;
}

}  // namespace midstick::statistics
