// Exact bounds on rates, and the quantiles that intervals need. Pure functions.
//
// Bounds come from Boost.Math's distributions, not from our own numerics. One-sided and two-sided bounds differ; every function says
// which it is, and so must the report.
#pragma once

#include <cstdint>

namespace midstick::statistics {

/// None of n seen: the rate is below this with 95 % confidence, one-sided, exact 1 - 0.05^(1/n). About 3/n: the rule of three (Hanley
/// and Lippman-Hand, JAMA 249 (1983) 1743). 1 for n < 1.
double none_seen_bound(std::int64_t n);

/// Two-sided exact interval of Clopper and Pearson for x seen in n, 0 <= x <= n, n >= 1. `confidence` in (0, 1).
struct RateInterval {
  double low{0}, high{1};
};
RateInterval rate_interval(std::int64_t x, std::int64_t n, double confidence = 0.95);

/// Chance of x or fewer in n, 0 <= x <= n, each with probability `rate` in [0, 1]: binomial, exact.
double at_most(std::int64_t x, std::int64_t n, double rate);

/// Student's t, two-sided, dof >= 1, `confidence` in (0, 1).
double student_t(std::int64_t dof, double confidence);

/// Student's t, two-sided 95 %, dof >= 1 (JCGM 100:2008 table G.2).
double student_t95(std::int64_t dof);

}  // namespace midstick::statistics
