// A trend for a person, as one file that needs no network and no script, in the reports' own style: what drifts first, then every metric
// over nights with its tolerance interval and weighted mean, its CUSUM below, the comparison of builds, and what was left out.
//
// With more metrics than kPlotted only those that drift or differ are drawn, and the page says so. Pure; all text from outside is escaped.
#pragma once

#include <cstddef>
#include <string>

#include "daemon/trend/trend.hpp"

namespace midstick::trend {

inline constexpr std::size_t kPlotted = 60;

std::string trend_html(const Trend& trend);

}  // namespace midstick::trend
