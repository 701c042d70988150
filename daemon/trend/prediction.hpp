// How soon a drift will be flagged: the chart of drift.hpp's run length under a shift that steps or grows. Pure functions.
//
// Theory, not simulation: the scores' means follow from how much of the drift has entered their own reference (the deviations of each
// value from the mean of those before are independent for normal values), their spread from Student's t and what the baseline may have
// estimated as sigma; the chance of an alarm by each night is the CUSUM's integral equation over those (statistics/run_length.hpp).
// Approximate in one thing: the reference's variance is taken at its expectation once the drift has begun. Against drawn histories
// (tests/trend/drift_test.cpp) the median night is met and about 99 % are flagged by the 99 % night.
#pragma once

#include <span>
#include <vector>

#include "daemon/trend/drift.hpp"

namespace midstick::trend {

/// Chance that the alarm has come by the 1st, 2nd ... night after the baseline, when that night's mean is `shifts[i]` standard deviations
/// off the baseline's.
std::vector<double> flagged_by(const ChartSetting& setting, std::span<const double> shifts);

/// Nights within which a drift of `per_night` standard deviations a night, from the first night after the baseline on, is flagged with
/// `probability`; at most `most`, then 0.
int nights_to_flag(const ChartSetting& setting, double per_night, double probability = 0.99, int most = 200);

}  // namespace midstick::trend
