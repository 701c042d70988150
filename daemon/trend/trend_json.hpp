// A trend for programs. Times are the runs' starts, UTC; nights are numbered from 1; values in the metric's unit, sums in standard
// deviations. Pure; valid UTF-8 whatever the run folders hold.
#pragma once

#include <string>

#include "daemon/trend/trend.hpp"

namespace midstick::trend {

std::string trend_json(const Trend& trend);

}  // namespace midstick::trend
