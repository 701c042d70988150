#include "daemon/statistics/least_squares.hpp"

#include <algorithm>
#include <cmath>
#include <Eigen/Dense>

namespace midstick::statistics {
namespace {

using Matrix = Eigen::Matrix<long double, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor>;
using Vector = Eigen::Matrix<long double, Eigen::Dynamic, 1>;

bool finite(std::span<const double> values) {
  return std::all_of(values.begin(), values.end(), [](double v) { return std::isfinite(v); });
}

bool usable(std::span<const double> design, std::size_t columns, std::span<const double> y, std::span<const double> weights) {
  if (columns < 1 || y.size() < columns + 1 || design.size() != y.size() * columns) return false;
  if (!weights.empty() && weights.size() != y.size()) return false;
  return finite(design) && finite(y) && finite(weights) && std::all_of(weights.begin(), weights.end(), [](double w) { return w > 0; });
}

Vector weights_of(std::size_t rows, std::span<const double> weights) {
  Vector w = Vector::Ones(static_cast<Eigen::Index>(rows));
  for (std::size_t i = 0; i < weights.size(); ++i) w(static_cast<Eigen::Index>(i)) = weights[i];
  return w;
}

/// Sum of weighted squares that the fit had to explain.
long double total_sum(const Matrix& x, const Vector& y, const Vector& w) {
  bool constant = false;
  for (Eigen::Index c = 0; c < x.cols(); ++c) constant = constant || (x(0, c) != 0 && (x.col(c).array() == x(0, c)).all());
  const long double centre = constant ? w.dot(y) / w.sum() : 0;
  return (w.array() * (y.array() - centre).square()).sum();
}

std::optional<LinearFit> solve(const Matrix& x, const Vector& y, const Vector& w) {
  const Vector root = w.cwiseSqrt();
  Matrix scaled = root.asDiagonal() * x;
  // Columns brought to length 1: powers of x differ by many decades, and pivoting must not mistake a small unit for a missing rank.
  const Vector length = scaled.colwise().norm().transpose();
  if (!(length.minCoeff() > 0)) return {};
  scaled = scaled * length.cwiseInverse().asDiagonal();
  const Eigen::ColPivHouseholderQR<Matrix> qr(scaled);
  if (qr.rank() < x.cols()) return {};

  const Vector b = length.cwiseInverse().asDiagonal() * Vector(qr.solve(Vector(root.cwiseProduct(y))));
  const Vector residual = y - x * b;
  LinearFit f;
  f.dof = static_cast<int>(x.rows() - x.cols());
  const long double square = (w.array() * residual.array().square()).sum(), variance = square / f.dof;
  const Matrix r = qr.matrixR().topRows(x.cols()).template triangularView<Eigen::Upper>();
  const Matrix inverse = r.template triangularView<Eigen::Upper>().solve(Matrix(Matrix::Identity(x.cols(), x.cols())));
  const Matrix order = qr.colsPermutation() * Matrix(Matrix::Identity(x.cols(), x.cols()));
  const Matrix half = length.cwiseInverse().asDiagonal() * (order * inverse);
  const Matrix covariance = variance * (half * half.transpose());

  for (const long double v : b) f.coefficients.push_back(static_cast<double>(v));
  for (Eigen::Index i = 0; i < covariance.size(); ++i) f.covariance.push_back(static_cast<double>(covariance.data()[i]));
  f.residual_sum = static_cast<double>(square);
  f.residual_sd = static_cast<double>(std::sqrt(variance));
  const long double total = total_sum(x, y, w);
  f.r_squared = total > 0 ? static_cast<double>(1 - square / total) : 1;
  return f;
}

}  // namespace

double LinearFit::u(std::size_t coefficient) const { return std::sqrt(covariance[coefficient * (coefficients.size() + 1)]); }

std::optional<LinearFit> fit_linear(std::span<const double> design, std::size_t columns, std::span<const double> y,
                                    std::span<const double> weights) {
  if (!usable(design, columns, y, weights)) return {};
  const auto rows = static_cast<Eigen::Index>(y.size());
  using Given = Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor>;
  const Matrix x = Eigen::Map<const Given>(design.data(), rows, static_cast<Eigen::Index>(columns)).cast<long double>();
  const Vector right = Eigen::Map<const Eigen::VectorXd>(y.data(), rows).cast<long double>();
  return solve(x, right, weights_of(y.size(), weights));
}

std::optional<LinearFit> fit_polynomial(std::span<const double> x, std::size_t degree, std::span<const double> y,
                                        std::span<const double> weights) {
  if (x.size() != y.size() || x.size() < degree + 2 || !finite(x) || !finite(y)) return {};
  if (!weights.empty() && !usable(x, 1, y, weights)) return {};
  const auto columns = static_cast<Eigen::Index>(degree) + 1;
  Matrix design(static_cast<Eigen::Index>(x.size()), columns);
  for (Eigen::Index i = 0; i < design.rows(); ++i) {
    long double power = 1;
    for (Eigen::Index c = 0; c < columns; ++c, power *= x[static_cast<std::size_t>(i)]) design(i, c) = power;
  }
  const Vector right = Eigen::Map<const Eigen::VectorXd>(y.data(), design.rows()).cast<long double>();
  return solve(design, right, weights_of(x.size(), weights));
}

}  // namespace midstick::statistics
