#include "daemon/statistics/summary.hpp"

#include <algorithm>
#include <cmath>

namespace midstick::statistics {

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

double lag1_autocorrelation(std::span<const double> values) {
  const double mean = summarise(values).mean;
  double square = 0, product = 0;
  for (std::size_t i = 0; i < values.size(); ++i) {
    square += (values[i] - mean) * (values[i] - mean);
    if (i > 0) product += (values[i] - mean) * (values[i - 1] - mean);
  }
  return square > 0 ? product / square : 0;
}

double percentile(std::vector<double> values, double percent) {
  if (values.empty()) return 0;
  const double rank = std::ceil(percent / 100 * static_cast<double>(values.size()) - 1e-9);
  const auto at = static_cast<std::size_t>(std::clamp(rank, 1.0, static_cast<double>(values.size()))) - 1;
  std::nth_element(values.begin(), values.begin() + static_cast<std::ptrdiff_t>(at), values.end());
  return values[at];
}

}  // namespace midstick::statistics
