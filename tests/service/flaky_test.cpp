#include "daemon/service/flaky.hpp"

#include <gtest/gtest.h>

#include <rapidcheck.h>

#include <algorithm>

#include "daemon/judge/check.hpp"

namespace midstick::service {
namespace {

using Verdicts = std::vector<std::string>;

TEST(Flaky, ThreeChangesQuarantineTwoDoNot) {
  EXPECT_FALSE(quarantined("static-mix", {"fail", "pass", "fail"}));
  EXPECT_TRUE(quarantined("static-mix", {"fail", "pass", "fail", "pass"}));
}

TEST(Flaky, AFailureThatCameAndStaysIsNoFlake) { EXPECT_FALSE(quarantined("static-mix", Verdicts(20, "fail"))); }

TEST(Flaky, InconclusiveRunsAreNoChange) { EXPECT_EQ(changes({"fail", "inconclusive", "fail", "inconclusive", "pass"}), 1); }

TEST(Flaky, TenPassesInARowEndIt) {
  Verdicts v(9, "pass");
  for (const char* old : {"fail", "pass", "fail", "pass"}) v.push_back(old);
  EXPECT_TRUE(quarantined("static-mix", v));
  v.insert(v.begin(), "pass");
  EXPECT_FALSE(quarantined("static-mix", v));
}

TEST(Flaky, OnlyTheNewestTwentyCount) {
  Verdicts v(20, "fail");
  for (const char* old : {"pass", "fail", "pass", "fail", "pass"}) v.push_back(old);
  EXPECT_FALSE(quarantined("static-mix", v));
}

TEST(Flaky, WhatMovesAMachineByItselfIsNeverQuarantined) {
  const Verdicts v{"fail", "pass", "fail", "pass", "fail"};
  for (const char* kind : {"power-up", "signal-loss", "esc-arming", "restart", "gaps"}) {
    const auto& kinds = judge::check_kinds();
    EXPECT_TRUE(std::ranges::any_of(kinds, [&](const auto& k) { return std::string(kind) == k.kind; })) << kind << " is no check any more";
    EXPECT_FALSE(quarantined(kind, v)) << kind;
  }
}

TEST(RunVerdict, QuarantineTakesAFailBackButNeverPasses) {
  EXPECT_EQ(run_verdict({{"pass", false}, {"fail", true}}), "inconclusive");
  EXPECT_EQ(run_verdict({{"fail", false}, {"fail", true}}), "fail");
  EXPECT_EQ(run_verdict({{"pass", false}, {"not run", false}}), "pass");
  EXPECT_EQ(run_verdict({{"not run", false}}), "inconclusive");
  EXPECT_EQ(run_verdict({}), "inconclusive");
}

TEST(RunVerdict, IsNeverBetterForOneMoreTrouble) {
  EXPECT_TRUE(rc::check("a pass turned into anything else never makes the run pass", [] {
    const auto word = rc::gen::element<std::string>("pass", "fail", "inconclusive", "not run");
    std::vector<Counted> checks;
    for (const auto& v : *rc::gen::container<std::vector<std::string>>(word)) checks.push_back({v, *rc::gen::arbitrary<bool>()});
    const bool any_trouble =
        std::ranges::any_of(checks, [](const Counted& c) { return c.verdict == "fail" || c.verdict == "inconclusive"; });
    RC_ASSERT(!(any_trouble && run_verdict(checks) == "pass"));
  }));
}

}  // namespace
}  // namespace midstick::service
