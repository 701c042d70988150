// report.json: the answer as a program reads it. Layout: schema/report.schema.json (JSON Schema draft 7).
//
// Two runs of the same plan, seed and images differ only in `run.when` and `run.where`. Times are integer board ticks and
// microseconds of true time since the start of the capture. A value that could not be measured is null, never NaN.
// Pure; valid UTF-8 whatever the inputs hold; cannot fail.
#pragma once

#include <string>

#include "daemon/report/source.hpp"

namespace midstick::report {

/// Version of the layout; raised when a field changes its meaning or goes.
inline constexpr int kReportVersion = 1;

/// The whole file, indented by one space, line feed at the end.
std::string report_json(const Source& source);

}  // namespace midstick::report
