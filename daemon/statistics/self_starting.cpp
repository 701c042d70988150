#include "daemon/statistics/self_starting.hpp"

#include <algorithm>
#include <boost/math/distributions/chi_squared.hpp>
#include <boost/math/distributions/normal.hpp>
#include <boost/math/distributions/students_t.hpp>
#include <cmath>

namespace midstick::statistics {
namespace {

constexpr double kMostScore = 30;  // beyond it the tail probability is no longer a number

}  // namespace

double normal_score(double t, double dof) {
  if (t == 0) return 0;
  const double tail = cdf(complement(boost::math::students_t(dof), std::abs(t)));
  const double score = tail > 1e-190 ? quantile(complement(boost::math::normal(), tail)) : kMostScore;
  return std::copysign(std::min(score, kMostScore), t);
}

double variance_ratio(std::int64_t dof, double probability) {
  return quantile(boost::math::chi_squared(static_cast<double>(dof)), probability) / static_cast<double>(dof);
}

std::optional<Reference> SelfStarting::reference() const {
  if (values_ < 2) return {};
  return Reference{mean_, std::max(sd_floor_, std::sqrt(square_ / static_cast<double>(values_ - 1))), values_};
}

std::optional<double> SelfStarting::score(double value) const {
  const auto r = reference();
  if (!r) return {};
  const double away = value - r->mean;
  if (away == 0) return 0;
  if (!(r->sd > 0)) return std::copysign(kMostScore, away);
  const auto n = static_cast<double>(values_);
  return normal_score(away / r->sd * std::sqrt(n / (n + 1)), n - 1);
}

void SelfStarting::learn(double value) {
  ++values_;
  const double before = value - mean_;
  mean_ += before / static_cast<double>(values_);
  square_ += before * (value - mean_);
}

std::vector<double> self_starting_scores(std::span<const double> values, std::size_t baseline, double sd_floor) {
  SelfStarting past(sd_floor);
  std::vector<double> scores;
  for (std::size_t i = 0; i < values.size(); ++i) {
    if (i >= std::max<std::size_t>(baseline, 2)) scores.push_back(past.score(values[i]).value());
    past.learn(values[i]);
  }
  return scores;
}

}  // namespace midstick::statistics
