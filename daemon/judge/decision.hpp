// From a number and its limits to a verdict, in one place.
//
// Guard band w = r U on both sides of each limit (JCGM 106:2012 8.3; ILAC-G8:09/2019 4.2.3 non-binary rule): pass when the whole interval
// measured +- r U lies inside the limits, fail when it lies wholly outside, inconclusive between (their conditional pass and conditional
// fail). r is the plan's, 1 unless it says otherwise; 0 is simple acceptance (4.2.1), where nothing is between. While a check looks for
// evidence it decides with r = 1; conclude() applies the plan's r to its measures. No samples is inconclusive. Pure values; cannot fail.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "daemon/judge/check.hpp"

namespace midstick::judge {

/// Verdict of one number. `uncertainty` is U (95 %), >= 0; infinite or NaN is inconclusive, and so is a NaN measured. `ratio` >= 0.
Verdict decide(double measured, std::optional<double> low, std::optional<double> high, double uncertainty, double ratio = 1);

/// Chance that the true value lies within the limits, given a normal distribution with u = U / 2 about the measured one (JCGM 106:2012
/// 7.2 to 7.4). Nothing without limits, and for counts, whose bounds their notes give.
std::optional<double> conformance_probability(const Measure& m);

/// Something else than the number speaks against a verdict: inconclusive, whatever the decision rule.
void withhold(Measure& m);
/// The same, but what fails already fails: too short a watch can only have made it better.
void withhold_pass(Measure& m);

/// The instant that this time ends with did not come while it was watched: `measured` bounds it from below, whatever its uncertainty.
/// Withholds a pass. `what` is read before "within 818 ms": "never safe".
void never_came(Measure& m, std::string what);

/// fail over inconclusive over pass; of none: inconclusive.
Verdict overall(const std::vector<Measure>& measures);

/// Fewer `samples` than `needed` (at least 1) leave a measure inconclusive, and its note says so.
Measure measure(std::string name, double measured, std::optional<double> low, std::optional<double> high, double uncertainty,
                std::string unit, std::int64_t samples, std::int64_t needed = 1);

/// `seen` of `n` when none is allowed. Fails on any; the note bounds the rate: one-sided when none was seen, else Clopper-Pearson.
/// `what` names the n in plural ("pulses").
Measure none_allowed(std::string name, std::int64_t seen, std::int64_t n, const std::string& what, std::int64_t needed = 1);

/// "rate below 0.25 % (none in n, 95 %, one-sided)": what none of n seen supports.
std::string none_seen_text(std::int64_t n);

/// The measure that decided: the failing one furthest past its limit, else the first inconclusive, else the passing one with the
/// least to spare. Distances are taken in parts of the limits' own span. -1 of none.
int headline(const std::vector<Measure>& measures);

}  // namespace midstick::judge
