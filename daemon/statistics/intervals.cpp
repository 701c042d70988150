#include "daemon/statistics/intervals.hpp"

#include <boost/math/distributions/chi_squared.hpp>
#include <boost/math/distributions/students_t.hpp>
#include <cmath>

namespace midstick::statistics {

std::optional<Interval> mean_interval(const Summary& s, double confidence) {
  if (s.samples < 2) return {};
  const auto n = static_cast<double>(s.samples);
  const double half = quantile(complement(boost::math::students_t(n - 1), (1 - confidence) / 2)) * s.sd / std::sqrt(n);
  return Interval{s.mean - half, s.mean + half};
}

std::optional<Interval> sd_interval(const Summary& s, double confidence) {
  if (s.samples < 2) return {};
  const auto nu = static_cast<double>(s.samples - 1);
  const boost::math::chi_squared chi(nu);
  const double tail = (1 - confidence) / 2;
  return Interval{s.sd * std::sqrt(nu / quantile(complement(chi, tail))), s.sd * std::sqrt(nu / quantile(chi, tail))};
}

}  // namespace midstick::statistics
