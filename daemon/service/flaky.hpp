// When a check is too flaky to decide a run, and what its run's verdict then is. Pure.
//
// Rule (our own, no source): over the newest 20 complete runs of the same controller, plan and build, a check that changed between pass and
// fail three times or more is quarantined, until ten runs in a row have passed it. The same build under the same plan has one truth; what
// changes back and forth tells of the check, the bench or a fault that comes and goes. Quarantined never means passed: a run that only
// quarantined checks fail is inconclusive. Checks whose failure moves a machine by itself are never quarantined.
#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace midstick::service {

inline constexpr int kFlakyWindow = 20, kFlakyChanges = 3, kSteadyAgain = 10;

/// Changes between pass and fail in `verdicts`; other verdicts are passed over.
int changes(const std::vector<std::string>& verdicts);

/// `verdicts`: newest first, at most kFlakyWindow are looked at.
bool quarantined(std::string_view check_kind, const std::vector<std::string>& verdicts);

struct Counted {
  std::string verdict;
  bool quarantined{false};
};
/// The run's verdict from its checks' ("not run" does not count).
std::string run_verdict(const std::vector<Counted>& checks);

}  // namespace midstick::service
