// Where a run's board time went: check by check, and what lay between them.
//
// Pure functions of what was recorded; shares are of the whole capture. A run of no length has shares of 0.
#pragma once

#include <string>
#include <vector>

#include "daemon/report/source.hpp"

namespace midstick::report {

struct TimeShare {
  std::string name;  ///< of the check
  double ms{0};      ///< board time of all its repeats, true time
  double percent{0};
};

struct TimeSpent {
  std::vector<TimeShare> checks;             ///< in the order of the result, longest not first
  double between_ms{0}, between_percent{0};  ///< lead-in, gaps between checks, end
  double total_ms{0};
};
TimeSpent time_spent(const Source& source);

/// One line for a terminal, the longest checks first: "Time: 3 min 41 s of board time in checks: signal-loss 28 %, latency 13 %, 7 others
/// 59 %." Empty when no check took any.
std::string time_line(const judge::RunResult& result);

}  // namespace midstick::report
