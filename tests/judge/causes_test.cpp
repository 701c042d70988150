// How causes are ordered over a whole run, and that the table of causes speaks of checks that exist.
#include <gtest/gtest.h>

#include <algorithm>
#include <set>

#include "daemon/judge/causes.hpp"

namespace midstick::judge {
namespace {

CheckResult failing(const std::string& kind, std::vector<Cause> causes) {
  CheckResult c;
  c.name = c.kind = kind;
  c.verdict = Verdict::fail;
  c.causes = std::move(causes);
  return c;
}

std::string ids(const CheckResult& c) {
  std::string all;
  for (const Cause& cause : c.causes) all += (all.empty() ? "" : " ") + cause.id;
  return all;
}

TEST(KnownCauses, HaveUniqueIdsAndBreakChecksThatExist) {
  std::set<std::string> seen, kinds;
  for (const auto& k : check_kinds()) kinds.insert(k.kind);
  for (const KnownCause& c : known_causes()) {
    EXPECT_TRUE(seen.insert(c.id).second) << c.id;
    EXPECT_FALSE(c.breaks.empty()) << c.id;
    for (const char* kind : c.breaks) EXPECT_TRUE(kinds.contains(kind)) << c.id << ": " << kind;
    const std::string text = c.text;
    EXPECT_FALSE(text.empty() || text.back() == '.') << c.id;
  }
  EXPECT_EQ(known_cause("no such cause"), nullptr);
}

TEST(RankCauses, PutsTheBetterFitFirst) {
  RunResult run;
  run.checks = {failing("static-mix", {{"no-expo", 0.4, "a"}, {"plain-clip", 0.9, "b"}})};
  rank_causes(run);
  EXPECT_EQ(ids(run.checks[0]), "plain-clip no-expo");
}

TEST(RankCauses, ACauseThatExplainsMoreChecksWinsOverAnEquallyGoodOne) {
  RunResult run;
  run.checks = {failing("neutral", {{"neutral-off", 0.7, "8 us"}, {"clock-off", 0.7, "0.5 %"}}),
                failing("clock-ratio", {{"clock-off", 0.9, "widths and frames"}})};
  rank_causes(run);
  EXPECT_EQ(ids(run.checks[0]), "clock-off neutral-off");
}

TEST(RankCauses, HandsACauseDownToACheckThatItDragsAlong) {
  RunResult run;
  run.checks = {failing("dead-band", {{"no-dead-band", 0.9, "outputs move at 2 us"}}), failing("static-mix", {}), failing("latency", {})};
  rank_causes(run);
  EXPECT_EQ(ids(run.checks[1]), "no-dead-band");
  EXPECT_EQ(ids(run.checks[2]), "") << "no known cause fits";
}

TEST(RankCauses, LeavesPassingChecksAlone) {
  RunResult run;
  CheckResult passing;
  passing.kind = "static-mix";
  passing.verdict = Verdict::pass;
  run.checks = {failing("dead-band", {{"no-dead-band", 0.9, ""}}), passing};
  rank_causes(run);
  EXPECT_TRUE(run.checks[1].causes.empty());
}

}  // namespace
}  // namespace midstick::judge
