#include "daemon/clock/rate_fit.hpp"

#include <algorithm>
#include <cmath>
#include <Eigen/Dense>
#include <limits>
#include <optional>

namespace midstick::clock {
namespace {

constexpr double kUnknown = std::numeric_limits<double>::infinity();
/// A few samples can agree by chance, many cannot: a residual never counts for less than this share of what its round trip allows.
double least_residual(std::size_t samples) { return 0.3 * std::sqrt(16.0 / std::max<double>(16, static_cast<double>(samples))); }

template <int N>
struct Fit {
  Eigen::Matrix<double, N, 1> b;
  Eigen::Matrix<double, N, N> covariance;

  /// Of a linear combination of the coefficients, per tick.
  FittedRate rate(const Eigen::Matrix<double, N, 1>& of, double half_span) const {
    return {of.dot(b) / half_span, std::sqrt(std::max(0.0, of.dot(covariance * of))) / half_span};
  }
};

template <int N>
Eigen::Matrix<double, N, 1> powers(double x) {
  Eigen::Matrix<double, N, 1> row;
  double power = 1;
  for (int i = 0; i < N; ++i, power *= x) row[i] = power;
  return row;
}

/// Nothing when the points do not fix all coefficients. Errors within one of `blocks` equal stretches of time may hang together in any way;
/// 0: every point has an error of its own.
template <int N>
std::optional<Fit<N>> fit(const std::vector<FitPoint>& points, double half_span, int blocks = 0) {
  using Row = Eigen::Matrix<double, N, 1>;
  using Square = Eigen::Matrix<double, N, N>;
  if (points.size() <= N || !(half_span > 0)) return std::nullopt;
  Square normal = Square::Zero();
  Row right = Row::Zero();
  for (const FitPoint& p : points) {
    const Row row = powers<N>(p.tick / half_span);
    const double weight = 1 / (p.error_ns * p.error_ns);
    normal += weight * row * row.transpose();
    right += weight * p.ns * row;
  }
  bool invertible = false;
  Square inverse;
  normal.computeInverseWithCheck(inverse, invertible, 1e-300);
  if (!invertible) return std::nullopt;
  const Row b = inverse * right;
  std::vector<Row> scores(blocks > 0 ? static_cast<std::size_t>(blocks) : points.size(), Row::Zero());
  const double least = least_residual(points.size());
  for (std::size_t i = 0; i < points.size(); ++i) {
    const FitPoint& p = points[i];
    const double x = p.tick / half_span;
    const Row row = powers<N>(x);
    const double weight = 1 / (p.error_ns * p.error_ns);
    const double leverage = weight * row.dot(inverse * row);
    if (leverage > 0.999) return std::nullopt;
    const double off = p.ns - row.dot(b), residual = std::copysign(std::max(std::abs(off), least * p.error_ns), off);
    const std::size_t block = blocks > 0 ? static_cast<std::size_t>(std::clamp((x + 1) / 2 * blocks, 0.0, blocks - 1.0)) : i;
    scores[block] += weight * residual / (1 - leverage) * row;
  }
  Square middle = Square::Zero();
  for (const Row& score : scores) middle += score * score.transpose();
  if (blocks > N) middle *= static_cast<double>(blocks) / (blocks - N);
  return Fit<N>{b, inverse * middle * inverse};
}

}  // namespace

FittedLine fitted_line(const std::vector<FitPoint>& points, double half_span) {
  double weights = 0, ticks = 0;
  for (const FitPoint& p : points) {
    weights += 1 / (p.error_ns * p.error_ns);
    ticks += p.tick / (p.error_ns * p.error_ns);
  }
  const auto line = fit<2>(points, half_span);
  return {line ? line->rate({0, 1}, half_span) : FittedRate{0, kUnknown}, weights > 0 ? ticks / weights : 0};
}

FittedCurve fitted_curve(const std::vector<FitPoint>& points, double half_span, double ahead) {
  const auto curve = fit<3>(points, half_span);
  if (!curve) return {{0, kUnknown}, {0, kUnknown}};
  return {curve->rate({0, 1, -2}, half_span), curve->rate({0, 1, 2 * (1 + ahead)}, half_span)};
}

FittedRate fitted_bend(const std::vector<FitPoint>& points, double half_span, int blocks) {
  const auto curve = fit<3>(points, half_span, blocks);
  return curve && blocks > 3 ? curve->rate({0, 0, 4}, half_span) : FittedRate{0, kUnknown};
}

}  // namespace midstick::clock
