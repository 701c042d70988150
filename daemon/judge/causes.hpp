// Causes: what a failing check is consistent with, ranked.
//
// Each check names the causes that its own evidence fits (Findings::causes), with a fit of 0..1 and the numbers that speak for it.
// rank_causes() then looks at all failing checks together: a cause that several checks point to, and that explains most of what failed,
// comes first; a failing check whose own evidence says little inherits the run's causes that are known to drag it along. Nothing here is a
// proof, and "no known cause fits" is an answer. Pure; cannot fail. The facts behind the table are common practice, no source.
#pragma once

#include <span>
#include <string>
#include <vector>

#include "daemon/judge/check.hpp"

namespace midstick::judge {

struct KnownCause {
  const char* id;
  const char* text;                 ///< one line for the report, after "consistent with": lower case, no full stop
  std::vector<const char*> breaks;  ///< kinds of checks that it makes fail, the most telling first; the rest is dragged along
};

const std::vector<KnownCause>& known_causes();
/// Null when there is no such cause.
const KnownCause* known_cause(const std::string& id);

/// Order the causes of every failing check, and hand down what one check knows to those that fail with it.
void rank_causes(RunResult& run);

}  // namespace midstick::judge
