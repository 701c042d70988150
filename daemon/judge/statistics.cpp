#include "daemon/judge/statistics.hpp"

#include <algorithm>
#include <boost/math/distributions/binomial.hpp>
#include <boost/math/distributions/students_t.hpp>
#include <cmath>

namespace midstick::judge {

Summary summarise(std::span<const double> values) {
  Summary s;
  s.samples = static_cast<std::int64_t>(values.size());
  if (values.empty()) return s;
  // Deviations from the first value keep the sums small, so that no digits are lost on widths around 1500 us.
  const double origin = values.front();
  double sum = 0;
  for (const double v : values) sum += v - origin;
  const double n = static_cast<double>(values.size());
  s.mean = origin + sum / n;
  double square = 0;
  for (const double v : values) square += (v - s.mean) * (v - s.mean);
  s.sd = values.size() > 1 ? std::sqrt(square / (n - 1)) : 0;
  std::vector<double> sorted(values.begin(), values.end());
  std::sort(sorted.begin(), sorted.end());
  s.min = sorted.front();
  s.max = sorted.back();
  const std::size_t half = sorted.size() / 2;
  s.median = sorted.size() % 2 ? sorted[half] : (sorted[half - 1] + sorted[half]) / 2;
  return s;
}

double percentile(std::vector<double> values, double percent) {
  if (values.empty()) return 0;
  const double rank = std::ceil(percent / 100 * static_cast<double>(values.size()) - 1e-9);
  const auto at = static_cast<std::size_t>(std::clamp(rank, 1.0, static_cast<double>(values.size()))) - 1;
  std::nth_element(values.begin(), values.begin() + static_cast<std::ptrdiff_t>(at), values.end());
  return values[at];
}

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

double student_t95(std::int64_t dof) {
  return boost::math::quantile(
      boost::math::complement(boost::math::students_t(static_cast<double>(std::max<std::int64_t>(dof, 1))), 0.025));
}

}  // namespace midstick::judge
