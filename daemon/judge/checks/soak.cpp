// Hours at the sticks, past the wrap of a 32-bit microsecond clock.
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

const CheckKind kSoak{"soak", "at the sticks for over an hour, past the wrap of a 32-bit microsecond clock", compose, judge};

}  // namespace midstick::judge
