// A trend for a terminal: one row a metric, the drifts and differences in words below, then what was left out. Pure; no row
// exceeds the width; sentences are left to the terminal to break.
#pragma once

#include <string>

#include "daemon/report/style.hpp"
#include "daemon/trend/trend.hpp"

namespace midstick::trend {

std::string trend_table(const Trend& trend, const report::TerminalStyle& style);

}  // namespace midstick::trend
