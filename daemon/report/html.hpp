// report.html: the run for a person, as one file that needs no network and no script.
//
// Verdict first, in words; then the checks as a table, each check with its plots, numbers and pulses; then the bench, what the run does not
// show, and the cautions. Readable in light, dark and print, on a phone, and by a screen reader. Kept under kHtmlLimit bytes by thinning
// the plots (never dropping outliers), then by leaving out those of checks that passed, and saying so. Pure; all text from outside is
// escaped; cannot fail.
#pragma once

#include <cstddef>
#include <string>

#include "daemon/report/source.hpp"

namespace midstick::report {

inline constexpr std::size_t kHtmlLimit = 2'000'000;

std::string report_html(const Source& source);

}  // namespace midstick::report
