#include "daemon/service/flaky.hpp"

#include <algorithm>
#include <array>

namespace midstick::service {
namespace {

/// Kinds of check whose failure means that a machine may move, or not stop, by itself.
constexpr std::array<std::string_view, 10> kNeverQuarantined{"power-up",    "signal-loss",     "esc-arming", "receiver",
                                                             "gaps",        "chattering-link", "restart",    "frozen-output",
                                                             "wild-frames", "plausibility"};

bool decided(const std::string& verdict) { return verdict == "pass" || verdict == "fail"; }

}  // namespace

int changes(const std::vector<std::string>& verdicts) {
  int count = 0;
  const std::string* before = nullptr;
  for (const std::string& v : verdicts) {
    if (!decided(v)) continue;
    if (before && *before != v) ++count;
    before = &v;
  }
  return count;
}

bool quarantined(std::string_view check_kind, const std::vector<std::string>& verdicts) {
  if (std::ranges::find(kNeverQuarantined, check_kind) != kNeverQuarantined.end()) return false;
  const auto window = std::vector(verdicts.begin(), verdicts.begin() + std::min<std::ptrdiff_t>(kFlakyWindow, std::ssize(verdicts)));
  if (changes(window) < kFlakyChanges) return false;
  const auto steady = std::ranges::find_if(window, [](const std::string& v) { return v != "pass"; }) - window.begin();
  return steady < kSteadyAgain;
}

std::string run_verdict(const std::vector<Counted>& checks) {
  bool any = false, open = false;
  for (const Counted& c : checks) {
    if (c.verdict == "not run") continue;
    any = true;
    if (c.verdict == "fail" && !c.quarantined) return "fail";
    open = open || c.verdict != "pass";
  }
  return any && !open ? "pass" : "inconclusive";
}

}  // namespace midstick::service
