// Widths alternating across byte boundaries: no output may come from half of each.
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

const CheckKind kTornValue{"torn-value", "widths alternating across byte boundaries: no output may come from half of each", compose, judge};

}  // namespace midstick::judge
