// Confidence intervals of a mean and of a standard deviation, from a summary of normal values. Pure functions.
#pragma once

#include <optional>

#include "daemon/statistics/summary.hpp"

namespace midstick::statistics {

struct Interval {
  double low{0}, high{0};
};

/// Two-sided, by Student's t. Nothing for fewer than two values; `confidence` in (0, 1).
std::optional<Interval> mean_interval(const Summary& summary, double confidence = 0.95);

/// Two-sided, by chi-square. Nothing for fewer than two values; `confidence` in (0, 1).
std::optional<Interval> sd_interval(const Summary& summary, double confidence = 0.95);

}  // namespace midstick::statistics
