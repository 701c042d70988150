// What the database keeps of a judged run: one row a check, one a measure, and the run's own with quarantined checks left out of its
// verdict. Pure.
#pragma once

#include <functional>
#include <string>
#include <vector>

#include "daemon/core/result.hpp"
#include "daemon/store/records.hpp"

namespace midstick::service {

struct VerdictRows {
  std::vector<store::CheckRow> checks;
  std::vector<store::MetricRow> metrics;  ///< "check: measure", as midstick trend names them
  std::string verdict, summary, cause;
  int failed{0}, inconclusive{0};
};

/// `before`: verdicts of a check in earlier runs of the same controller, plan and build, newest first. Error{bad_file}: no report.json.
using Earlier = std::function<std::vector<std::string>(const std::string& check)>;
Result<VerdictRows> rows_of(const std::string& report_json, const Earlier& before);

}  // namespace midstick::service
