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

/// Nearest-rank percentile, `percent` in (0, 100]: the smallest value with at least that share at or below it.
double percentile(std::vector<double> values, double percent);

}  // namespace midstick::statistics
