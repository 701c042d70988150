#include "daemon/statistics/run_length.hpp"

#include <gsl/gsl_integration.h>

#include <boost/math/distributions/normal.hpp>
#include <cmath>
#include <cstddef>
#include <Eigen/Dense>
#include <memory>

namespace midstick::statistics {
namespace {

const boost::math::normal normal;

double below(double z) { return cdf(normal, z); }
double above(double z) { return cdf(complement(normal, z)); }
double density(double z) { return pdf(normal, z); }

/// Nodes and weights of an integral over low..high. Enough nodes that one sd holds a dozen or more.
struct Nodes {
  std::vector<double> at, weight;
};

Nodes nodes(double low, double high) {
  const std::size_t count = std::max<std::size_t>(60, static_cast<std::size_t>(6 * (high - low)));
  const std::unique_ptr<gsl_integration_glfixed_table, decltype(&gsl_integration_glfixed_table_free)> table(
      gsl_integration_glfixed_table_alloc(count), &gsl_integration_glfixed_table_free);
  Nodes n{std::vector<double>(count), std::vector<double>(count)};
  for (std::size_t i = 0; i < count; ++i) gsl_integration_glfixed_point(low, high, i, &n.at[i], &n.weight[i], table.get());
  return n;
}

/// Where the sum stands: at 0 with a chance of its own, else spread over the nodes.
struct Standing {
  double at_zero{1};
  std::vector<double> spread;
};

struct Step {
  double shift{0}, sd{1};
  bool operator==(const Step&) const = default;
};

/// One value's way from every standing to every other. Worth keeping while the values' mean and sd stay the same.
class Passage {
 public:
  Passage(const Nodes& n, double k, double h, Step step) : nodes_(n) {
    const std::size_t size = n.at.size();
    between_.resize(static_cast<Eigen::Index>(size), static_cast<Eigen::Index>(size));
    for (std::size_t from = 0; from < size; ++from) {
      const double reach = n.at[from] - k + step.shift;
      for (std::size_t to = 0; to < size; ++to)
        between_(static_cast<Eigen::Index>(to), static_cast<Eigen::Index>(from)) =
            n.weight[from] * density((n.at[to] - reach) / step.sd) / step.sd;
      to_zero_.push_back(n.weight[from] * below(-reach / step.sd));
      alarm_.push_back(n.weight[from] * above((h - reach) / step.sd));
    }
    const double reach = step.shift - k;
    for (const double to : n.at) from_zero_.push_back(density((to - reach) / step.sd) / step.sd);
    zero_to_zero_ = below(-reach / step.sd);
    zero_to_alarm_ = above((h - reach) / step.sd);
  }

  /// Moves the standing on; returns the chance of an alarm on the way.
  double operator()(Standing& s) const {
    const auto size = static_cast<Eigen::Index>(nodes_.at.size());
    const Eigen::Map<const Eigen::VectorXd> spread(s.spread.data(), size);
    const Eigen::Map<const Eigen::VectorXd> alarm(alarm_.data(), size), to_zero(to_zero_.data(), size), from_zero(from_zero_.data(), size);
    const double alarmed = s.at_zero * zero_to_alarm_ + alarm.dot(spread);
    const double zero = s.at_zero * zero_to_zero_ + to_zero.dot(spread);
    const Eigen::VectorXd next = between_ * spread + s.at_zero * from_zero;
    s.at_zero = zero;
    s.spread.assign(next.data(), next.data() + size);
    return alarmed;
  }

 private:
  const Nodes& nodes_;
  Eigen::MatrixXd between_;
  std::vector<double> to_zero_, from_zero_, alarm_;
  double zero_to_zero_{0}, zero_to_alarm_{0};
};

}  // namespace

double cusum_run_length(double shift, double k, double h) {
  // L(s) = 1 + L(0) Phi(k - s - shift) + int_0^h L(y) phi(y + k - s - shift) dy, at s = 0 and at every node.
  const Nodes n = nodes(0, h);
  const auto size = static_cast<Eigen::Index>(n.at.size());
  Eigen::MatrixXd a = Eigen::MatrixXd::Identity(size + 1, size + 1);
  for (Eigen::Index row = 0; row <= size; ++row) {
    const double s = row == 0 ? 0 : n.at[static_cast<std::size_t>(row - 1)];
    a(row, 0) -= below(k - s - shift);
    for (Eigen::Index j = 0; j < size; ++j) {
      const auto at = static_cast<std::size_t>(j);
      a(row, j + 1) -= n.weight[at] * density(n.at[at] + k - s - shift);
    }
  }
  const Eigen::VectorXd lengths = a.partialPivLu().solve(Eigen::VectorXd::Ones(size + 1));
  return lengths(0);
}

double cusum_run_length_two_sided(double shift, double k, double h) {
  return 1 / (1 / cusum_run_length(shift, k, h) + 1 / cusum_run_length(-shift, k, h));
}

double ewma_run_length(double shift, double weight, double limit) {
  // L(u) = 1 + int L(y) phi((y - (1 - w) u) / w - shift) / w dy over +-limit sqrt(w / (2 - w)).
  const double edge = limit * std::sqrt(weight / (2 - weight));
  Nodes n = nodes(-edge, edge);
  const auto size = static_cast<Eigen::Index>(n.at.size());
  const auto kernel = [&](double u, std::size_t j) {
    return n.weight[j] * density((n.at[j] - (1 - weight) * u) / weight - shift) / weight;
  };
  Eigen::MatrixXd a = Eigen::MatrixXd::Identity(size, size);
  for (Eigen::Index i = 0; i < size; ++i)
    for (Eigen::Index j = 0; j < size; ++j) a(i, j) -= kernel(n.at[static_cast<std::size_t>(i)], static_cast<std::size_t>(j));
  const Eigen::VectorXd lengths = a.partialPivLu().solve(Eigen::VectorXd::Ones(size));
  double length = 1;
  for (Eigen::Index j = 0; j < size; ++j) length += kernel(0, static_cast<std::size_t>(j)) * lengths(j);
  return length;
}

double shewhart_run_length(double shift, double limit) { return 1 / (above(limit - shift) + below(-limit - shift)); }

std::vector<double> cusum_alarm_by(std::span<const double> shifts, double k, double h, std::span<const double> sds) {
  const Nodes n = nodes(0, h);
  Standing standing{1, std::vector<double>(n.at.size(), 0.0)};
  std::vector<double> by;
  double alarmed = 0;
  Step current;
  std::unique_ptr<Passage> passage;
  for (std::size_t i = 0; i < shifts.size(); ++i) {
    const Step step{shifts[i], i < sds.size() ? sds[i] : 1};
    if (!passage || !(step == current)) passage = std::make_unique<Passage>(n, k, h, step);
    current = step;
    alarmed += (*passage)(standing);
    by.push_back(std::min(1.0, alarmed));
  }
  return by;
}

double cusum_threshold(double k, int values, double risk) {
  const std::vector<double> none(static_cast<std::size_t>(std::max(values, 1)), 0.0);
  double low = 0.1, high = 1;
  const auto too_often = [&](double h) { return 2 * cusum_alarm_by(none, k, h).back() > risk; };
  while (too_often(high) && high < 1000) low = high, high *= 2;
  while (high - low > 1e-4) {
    const double middle = (low + high) / 2;
    (too_often(middle) ? low : high) = middle;
  }
  return high;
}

}  // namespace midstick::statistics
