// The uncertainty budgets of a certificate, in ns (JCGM 100:2008; statistics/budget.hpp). Pure; cannot fail.
#pragma once

#include <vector>

#include "daemon/calibrate/study.hpp"
#include "daemon/statistics/summary.hpp"

namespace midstick::calibrate {

inline constexpr double kNsPerTick = 62.5;  ///< nominal: delays are a few ticks, so the clock's error does not show in them

/// Of a mean lateness in ticks: its scatter, and the part of a tick that no stamp shows.
statistics::Budget offset_budget(const statistics::Summary& late);
/// Of the mean of `fall` less that of `rise`, both lateness in ticks.
statistics::Budget difference_budget(const statistics::Summary& rise, const statistics::Summary& fall);

/// Of one width, period and latency on each kind of line, as the judge measures them with this calibration.
std::vector<BudgetOf> budgets(const capture::Calibration& calibration, const clock::ClockMap& clock);

}  // namespace midstick::calibrate
