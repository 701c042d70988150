// When and where something was measured, for files that say so. Reads the computer's clock and name: the only parts of a run that differ
// from one to the next. Cannot fail; an unknown name is "".
#pragma once

#include <string>

namespace midstick::engine {

/// UTC now as ISO 8601, whole seconds. `compact` without separators, for file names.
std::string utc_now(bool compact = false);

std::string host_name();

}  // namespace midstick::engine
