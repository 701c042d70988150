#include "daemon/statistics/rates.hpp"

#include <algorithm>
#include <boost/math/distributions/binomial.hpp>
#include <boost/math/distributions/students_t.hpp>
#include <cmath>

namespace midstick::statistics {

double none_seen_bound(std::int64_t n) { return n < 1 ? 1.0 : 1.0 - std::pow(0.05, 1.0 / static_cast<double>(n)); }

RateInterval rate_interval(std::int64_t x, std::int64_t n, double confidence) {
  using boost::math::binomial_distribution;
  if (n < 1) return {};
  const double tail = (1 - confidence) / 2;
  const auto trials = static_cast<double>(n), seen = static_cast<double>(x);
  RateInterval r{0, 1};
  if (x > 0) r.low = binomial_distribution<>::find_lower_bound_on_p(trials, seen, tail);
  if (x < n) r.high = binomial_distribution<>::find_upper_bound_on_p(trials, seen, tail);
  return r;
}

double at_most(std::int64_t x, std::int64_t n, double rate) {
  return boost::math::cdf(boost::math::binomial_distribution<>(static_cast<double>(n), rate), static_cast<double>(x));
}

double student_t(std::int64_t dof, double confidence) {
  return boost::math::quantile(
      boost::math::complement(boost::math::students_t(static_cast<double>(std::max<std::int64_t>(dof, 1))), (1 - confidence) / 2));
}

double student_t95(std::int64_t dof) { return student_t(dof, 0.95); }

}  // namespace midstick::statistics
