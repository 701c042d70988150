// From a number and its limits to a verdict, in one place.
//
// Guard band w = U on both sides of each limit (JCGM 106:2012 8.3; ILAC-G8:09/2019 4.2.3 non-binary rule): pass when the whole interval
// measured +- U lies inside the limits, fail when it lies wholly outside, inconclusive between (their conditional pass and
// conditional fail). No samples is inconclusive. Pure values; cannot fail.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "daemon/judge/check.hpp"

namespace midstick::judge {

/// Verdict of one number. `uncertainty` is U (95 %), >= 0, may be infinite. A NaN is inconclusive.
Verdict decide(double measured, std::optional<double> low, std::optional<double> high, double uncertainty);

/// fail over inconclusive over pass; of none: inconclusive.
Verdict overall(const std::vector<Measure>& measures);

/// Fewer `samples` than `needed` (at least 1) leave a measure inconclusive, and its note says so.
Measure measure(std::string name, double measured, std::optional<double> low, std::optional<double> high, double uncertainty,
                std::string unit, std::int64_t samples, std::int64_t needed = 1);

/// `seen` of `n` when none is allowed. Fails on any; the note bounds the rate: one-sided when none was seen, else Clopper-Pearson.
/// `what` names the n in plural ("pulses").
Measure none_allowed(std::string name, std::int64_t seen, std::int64_t n, const std::string& what, std::int64_t needed = 1);

/// The measure that decided: the failing one furthest past its limit, else the first inconclusive, else the passing one with the
/// least to spare. Distances are taken in parts of the limits' own span. -1 of none.
int headline(const std::vector<Measure>& measures);

}  // namespace midstick::judge
