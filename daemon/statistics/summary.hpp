// Summaries of a list of values. Pure functions; empty input gives zeros.
#pragma once

#include <cstdint>
#include <span>
#include <vector>

namespace midstick::statistics {

struct Summary {
  std::int64_t samples{0};
  double mean{0}, sd{0}, min{0}, max{0}, median{0};  ///< sd with n - 1
};
Summary summarise(std::span<const double> values);

/// How much a value says about the next: sum (x_i - m)(x_{i-1} - m) / sum (x_i - m)^2, -1..1. Of n independent values about 0 +- 2 /
/// sqrt(n). 0 for fewer than two values or values that are all the same.
double lag1_autocorrelation(std::span<const double> values);

/// Nearest-rank percentile, `percent` in (0, 100]: the smallest value with at least that share at or below it.
double percentile(std::vector<double> values, double percent);

}  // namespace midstick::statistics
