// The result as a table for a terminal: name, verdict, measured, limit, samples, the reason, and what a failure is
// consistent with; below it the run's verdict and where the time went. Within the given width.
//
// From 72 columns on each check is one row with its reason below; narrower terminals get a small block a check. Verdicts are words, in
// colour where allowed. Pure; a line never exceeds the width (a single word longer than it is cut); cannot fail.
#pragma once

#include <string>

#include "daemon/judge/check.hpp"
#include "daemon/report/style.hpp"

namespace midstick::report {

/// Whole table with the run's verdict below; ends with a line feed.
std::string result_table(const judge::RunResult& result, const TerminalStyle& style);

}  // namespace midstick::report
