// A trend in words: the sentences that table, page and JSON share. Pure functions; UTF-8; text from run folders is passed on as it is.
#pragma once

#include <string>

#include "daemon/trend/trend.hpp"

namespace midstick::trend {

/// "3.20 ± 0.30 µs": to the digits that the uncertainty supports.
std::string value_text(double value, double u95, const std::string& unit);

/// "+1.89 µs": three significant digits and a sign.
std::string shift_text(double value, const std::string& unit);

/// "night 15, 2026-11-15".
std::string night_text(const Metric& metric, std::size_t night);

/// "neutral: left mean off neutral began to rise about night 15, ...: +3.20 ± 0.30 µs since, +1.00 ± 0.05 µs a night; flagged night 17,
/// ...". Empty where nothing drifts.
std::string drift_sentence(const MetricTrend& metric);

/// "drifts", "steady", "too few nights (9, from 15 on)", "not measured".
std::string state_word(const MetricTrend& metric, const ChartSetting& setting);

/// "build \"rev C\" against \"rev B\": ...", and what the tests say.
std::string comparison_sentence(const Trend& trend, const Comparison& comparison);

/// "drive correct, build rev B, plan nightly, virtual bench".
std::string series_text(const Metric& metric);

/// One line on the whole: "2 of 12 metrics drift.", "No drift in 12 metrics.", and how many could not be judged.
std::string verdict_sentence(const Trend& trend);

/// 1 when anything drifts or differs, 0 when something was judged and nothing does, 2 when nights were too few to judge anything.
int exit_code(const Trend& trend);

}  // namespace midstick::trend
