// Receiver frames from fast to slow: the outputs keep following.
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

const CheckKind kInputRate{"input-rate", "receiver frames from fast to slow: the outputs keep following", compose, judge};

}  // namespace midstick::judge
