// A steady stick, watched long: rare wrong pulses and the rhythm they come in.
#include "daemon/judge/checks/checks.hpp"
#include "daemon/judge/conclude.hpp"
#include "daemon/judge/sticks.hpp"

namespace midstick::judge {
namespace {

Result<script::StickScript> compose(const script::Plan& plan, const script::PlannedCheck& check, std::uint64_t seed) {
  return Sticks(plan, check.name, seed).arm().take();
}

CheckResult judge(const Context& c) { return undecided(c, "this check is not written yet."); }

}  // namespace

const CheckKind kOutlierRhythm{"outlier-rhythm", "a steady stick, watched long: rare wrong pulses and the rhythm they come in", compose, judge};

}  // namespace midstick::judge
