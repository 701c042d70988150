// Normal tolerance intervals: mean +- k sd of n values holds at least a share of all further values, with stated confidence. Pure
// functions.
//
// Not a confidence interval of the mean, and not a limit that a controller must keep: it says where the values of this population lie.
// Values independent and normal. `share` and `confidence` in (0, 1); do not mix them up: published software has.
#pragma once

#include <optional>

namespace midstick::statistics {

/// Two-sided factor, exact (numerical integration over where the mean may lie). Nothing for n < 2 or shares outside (0, 1).
std::optional<double> tolerance_factor(int n, double share, double confidence);

/// Howe's approximation of the same: k = sqrt(nu (1 + 1/n) z^2 / chi2), good to about 1 % (from memory).
std::optional<double> tolerance_factor_howe(int n, double share, double confidence);

/// One-sided, exact, by the non-central t distribution: mean + k sd is above the share, or mean - k sd below it.
std::optional<double> tolerance_factor_one_sided(int n, double share, double confidence);

}  // namespace midstick::statistics
