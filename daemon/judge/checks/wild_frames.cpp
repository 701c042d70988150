// Single wild frames in a steady stream: how far the outputs follow them.
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

const CheckKind kWildFrames{"wild-frames", "single wild frames in a steady stream: how far the outputs follow them", compose, judge};

}  // namespace midstick::judge
