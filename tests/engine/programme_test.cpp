// A plan becomes one timeline: powered first, neutral first, then the checks in order, reproducibly.
#include "daemon/engine/programme.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <set>

#include "daemon/script/load.hpp"

namespace midstick::engine {
namespace {

script::Plan mower_plan() {
  auto plan = script::load_plan(std::string(MIDSTICK_SOURCE) + "/fixtures/mower/nightly.json");
  EXPECT_TRUE(plan.ok()) << plan.error().message;
  return plan.take();
}

TEST(Programme, PowersTheControllerBeforeAnythingElseAndSendsNeutralUntilItMayBeArmed) {
  const auto plan = mower_plan();
  const auto programme = compose(plan, 1);
  ASSERT_TRUE(programme.ok()) << programme.error().message;
  ASSERT_FALSE(programme->timeline.actions.empty());
  EXPECT_EQ(programme->timeline.actions.front().kind, script::ActionKind::power_on);
  EXPECT_EQ(programme->timeline.actions.front().at, ScriptTime{});
  ASSERT_FALSE(programme->segments.empty());
  const ScriptTime first_check = programme->segments.front().begin;
  EXPECT_GE(first_check.count, script_ms(static_cast<std::int64_t>(plan.spec.arm.boot_ms + plan.spec.arm.neutral_ms)).count);
  std::int64_t rise[6] = {};
  for (const auto& e : programme->timeline.edges) {
    if (e.at >= first_check) break;
    if (e.level)
      rise[e.line] = e.at.count;
    else
      EXPECT_EQ(e.at.count - rise[e.line], 1'500'000) << "not neutral before the first check";
  }
}

TEST(Programme, PlaysEveryCheckAndEveryRepeatOnceWithoutGapOrOverlap) {
  auto plan = mower_plan();
  plan.checks.at(0).repeats = 3;
  const auto programme = compose(plan, 1);
  ASSERT_TRUE(programme.ok());
  std::set<std::pair<int, int>> played;
  ScriptTime at = programme->segments.front().begin;
  for (const auto& s : programme->segments) {
    EXPECT_EQ(s.begin, at);
    EXPECT_GT(s.end, s.begin);
    at = s.end;
    EXPECT_TRUE(played.emplace(s.check, s.repeat).second);
  }
  const auto not_run = std::count_if(plan.checks.begin(), plan.checks.end(), [](const auto& c) { return c.kind == "wiring-fault"; });
  EXPECT_EQ(played.size(), plan.checks.size() + 2 - static_cast<std::size_t>(not_run));
  EXPECT_EQ(at, ScriptTime{} + programme->timeline.length);
}

TEST(Programme, SameSeedSameEdgesAnotherSeedOthers) {
  const auto plan = mower_plan();
  const auto edges = [&plan](std::uint64_t seed) {
    std::vector<std::int64_t> at;
    const auto programme = compose(plan, seed);
    for (const auto& e : programme->timeline.edges) at.push_back(e.at.count);
    return at;
  };
  EXPECT_EQ(edges(5), edges(5));
  EXPECT_NE(edges(5), edges(6));
}

TEST(Programme, AShuffledOrderKeepsEachSegmentsOwnSticks) {
  auto plan = mower_plan();
  const auto given = compose(plan, 11);
  plan.shuffle = true;
  const auto shuffled = compose(plan, 11);
  ASSERT_TRUE(given.ok() && shuffled.ok());
  const auto length_of = [](const Programme& p, int check) {
    for (const auto& s : p.segments)
      if (s.check == check) return (s.end - s.begin).count;
    return std::int64_t{-1};
  };
  bool moved = false;
  for (std::size_t i = 0; i < given->segments.size(); ++i) moved = moved || given->segments[i].check != shuffled->segments[i].check;
  EXPECT_TRUE(moved);
  for (std::size_t c = 0; c < plan.checks.size(); ++c)
    EXPECT_EQ(length_of(given.value(), static_cast<int>(c)), length_of(shuffled.value(), static_cast<int>(c)));
}

TEST(Programme, TheMowersNightTakesAtMostSevenMinutes) {
  const auto programme = compose(mower_plan(), 1);
  ASSERT_TRUE(programme.ok());
  EXPECT_LE(programme->timeline.length.count, script_ms(420'000).count);
}

}  // namespace
}  // namespace midstick::engine
