// Numbers as reports show them: rounded to what the unit and the uncertainty support, never NaN, never 17 digits.
//
// Files keep nanoseconds (0.001 us); people see two significant digits of the uncertainty and the value to the same place
// (JCGM 100:2008 7.2.6: an uncertainty is usually quoted to at most two significant digits). Text is UTF-8 with the micro and
// plus-minus signs. Pure functions; locale plays no part; a value that is not finite is shown as "none".
#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "daemon/judge/check.hpp"

namespace midstick::report {

/// Decimals kept in files for a unit: us 3, ms 6, s 9 (all 1 ns), others 4.
int file_decimals(std::string_view unit);

/// Rounded to file_decimals; nothing when not finite.
std::optional<double> rounded(double value, std::string_view unit);

/// "us" is shown as the micro sign and s; "count" and "" as nothing.
std::string unit_symbol(std::string_view unit);

/// At most `decimals` decimals, without trailing zeros and without "-0".
std::string plain(double value, int decimals);

/// Exactly `decimals` decimals, without "-0.00".
std::string fixed(double value, int decimals);

/// "1508.02 ± 0.25 µs"; of a time whose end did not come while it was watched: "never within 817.9 ms".
std::string measured_text(const judge::Measure& measure);

/// "1495 to 1505 µs", "at most 50 ms", "at least 3", "no limit".
std::string limit_text(const judge::Measure& measure);

/// Chance that the true value is inside the limit: "66 %", "99.8 %", "above 99.9 %"; "" where none is given.
std::string conformance_text(const judge::Measure& measure);

/// The rule by which values became verdicts, in two or three sentences for a beginner.
/// `guard_band` in parts of U, as the plan has it.
std::string decision_text(double guard_band);

/// A length of time for people, from ms: "1.2 ms", "820 ms", "3.4 s", "3 min 41 s".
std::string duration_text(double ms);

}  // namespace midstick::report
