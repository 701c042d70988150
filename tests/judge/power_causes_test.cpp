// Power-up: what its evidence is consistent with, and each power-up told once.
#include <gtest/gtest.h>

#include <set>

#include "tests/judge/world.hpp"

namespace midstick::judge_test {
namespace {

using judge::Verdict;

judge::CheckResult judged(const std::function<void(Behaviour&)>& plant) {
  Behaviour b;
  plant(b);
  const auto plan = plan_of({"power-up"});
  return judge::judge_run(plan, run(plan, b)).checks[0];
}

void expect_cause(const std::string& id, const std::function<void(Behaviour&)>& plant) {
  const auto r = judged(plant);
  EXPECT_EQ(r.verdict, Verdict::fail) << id << ": " << r.summary;
  ASSERT_FALSE(r.causes.empty()) << id << ": " << r.summary;
  EXPECT_EQ(r.causes.front().id, id) << r.causes.front().reason;
  EXPECT_EQ(r.causes.size(), 1U) << id << ": " << r.causes.back().id;
}

TEST(PowerUpCauses, AreToldApart) {
  expect_cause("boot-glitch", [](auto& b) { b.runt_at_boot = true; });
  expect_cause("first-pulses-default", [](auto& b) { b.first_pulses_us = 1472; });
  expect_cause("drives-without-neutral", [](auto& b) { b.no_arming = true; });
  expect_cause("slow-boot", [](auto& b) { b.boot_ms = 1200; });
  expect_cause("learn-mode", [](auto& b) { b.boot_high_ms = 1000; });
  expect_cause("neutral-off", [](auto& b) { b.neutral_off_us = 12; });
  expect_cause("safe-level-wrong", [](auto& b) { b.neutral_off_us = -300; });
}

TEST(PowerUpCauses, NoneIsNamedWhereNothingFits) {
  const auto r = judged([](auto& b) { b.outlier_us = 60; });
  EXPECT_EQ(r.verdict, Verdict::fail) << r.summary;
  for (const auto& cause : r.causes) ADD_FAILURE() << cause.id << ' ' << cause.reason;
}

TEST(PowerUpEvidence, ListsEachPowerUpOnce) {
  const auto r = judged([](auto&) {});
  std::set<std::int64_t> begins;
  for (const auto& span : r.evidence)
    if (span.label.starts_with("power on")) {
      EXPECT_TRUE(begins.insert(span.begin.count).second) << span.label;
    }
  EXPECT_GE(begins.size(), 3U);
}

}  // namespace
}  // namespace midstick::judge_test
