// What a failing check is consistent with, as people read it.
//
// A cause is not a proof, and none may fit: that is said as well, so that silence is never taken for knowledge. Pure; cannot fail.
#pragma once

#include <string>
#include <vector>

#include "daemon/judge/check.hpp"

namespace midstick::report {

/// Of a failing check, likeliest first: "Consistent with: interrupts held off for a stretch (9 of 9 outliers ...)."; at most `most`. Of
/// one that fits nothing known: "No known cause fits." Of any other check: empty.
std::vector<std::string> cause_lines(const judge::CheckResult& check, std::size_t most = 3);

/// The cause in words; its own id where the table of known causes has none.
std::string cause_text(const judge::Cause& cause);

}  // namespace midstick::report
