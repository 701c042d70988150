#include "daemon/engine/programme.hpp"

#include <algorithm>
#include <random>
#include <utility>

#include "daemon/judge/check.hpp"

namespace midstick::engine {
namespace {

/// Neutral sticks long enough for any boot and arming the spec allows.
script::StickScript lead_in(const script::Plan& plan) {
  constexpr double kMarginMs = 500;
  script::Move move;
  move.from = {{plan.spec.throttle.name, plan.spec.throttle.centre_us}, {plan.spec.steering.name, plan.spec.steering.centre_us}};
  move.for_ms = plan.controller.boot_ms + plan.spec.arm.boot_ms + plan.spec.arm.neutral_ms + kMarginMs;
  move.actions = {script::ActionKind::power_on};
  return {"lead-in", plan.frame, 0, {move}};
}

const judge::CheckKind* find_kind(const std::string& kind) {
  for (const auto& k : judge::check_kinds())
    if (kind == k.kind) return &k;
  return nullptr;
}

std::vector<std::pair<int, int>> playing_order(const script::Plan& plan, std::uint64_t seed) {
  std::vector<std::pair<int, int>> order;
  for (std::size_t c = 0; c < plan.checks.size(); ++c)
    for (int r = 0; r < plan.checks[c].repeats; ++r) order.emplace_back(static_cast<int>(c), r);
  if (plan.shuffle) {
    std::mt19937_64 random(seed);
    for (std::size_t i = order.size(); i > 1; --i) std::swap(order[i - 1], order[random() % i]);  // own mapping: same on every library
  }
  return order;
}

}  // namespace

std::uint64_t segment_seed(std::uint64_t seed, int check, int repeat) {
  // splitmix64 finaliser (Steele, Lea, Flood 2014, from memory): spreads neighbouring inputs.
  std::uint64_t z = seed + 0x9E3779B97F4A7C15u * (static_cast<std::uint64_t>(check) * 4096u + static_cast<std::uint64_t>(repeat) + 1u);
  z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9u;
  z = (z ^ (z >> 27)) * 0x94D049BB133111EBu;
  return z ^ (z >> 31);
}

Result<Programme> compose(const script::Plan& plan, std::uint64_t seed) {
  Programme programme;
  auto start = script::compile(lead_in(plan), plan.controller, seed);
  if (!start) return start.error();
  script::append(programme.timeline, start.value());
  for (const auto& [check, repeat] : playing_order(plan, seed)) {
    const auto& planned = plan.checks[static_cast<std::size_t>(check)];
    if (!plan.plays(planned)) continue;
    const judge::CheckKind* kind = find_kind(planned.kind);
    if (!kind)
      return Error{ErrorKind::bad_file, plan.path + ": check \"" + planned.name + "\" is of unknown kind \"" + planned.kind + "\""};
    const std::uint64_t own_seed = segment_seed(seed, check, repeat);
    auto sticks = kind->compose(plan, planned, own_seed);
    if (!sticks) return sticks.error();
    if (sticks->moves.empty()) continue;  // left out: judge_run says why
    auto timeline = script::compile(sticks.value(), plan.controller, own_seed);
    if (!timeline) return Error{timeline.error().kind, "check \"" + planned.name + "\": " + timeline.error().message};
    const ScriptTime begin = ScriptTime{} + programme.timeline.length;
    script::append(programme.timeline, timeline.value());
    programme.segments.push_back({check, repeat, begin, ScriptTime{} + programme.timeline.length});
  }
  return programme;
}

}  // namespace midstick::engine
