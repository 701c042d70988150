// A correct controller passes every check; each planted fault fails the check that is about it, and no other but those named here.
#include <gtest/gtest.h>

#include "tests/judge/world.hpp"

namespace midstick::judge_test {
namespace {

using judge::Verdict;

const std::vector<std::string> kAll{"neutral",      "static-mix",  "dead-band", "limits",  "latency",
                                    "output-frame", "signal-loss", "recovery",  "power-up"};

struct Case {
  const char* name;
  Behaviour behaviour;
  const char* fails;  ///< all checks that fail, in the plan's order
  const char* inconclusive;
};

void PrintTo(const Case& c, std::ostream* out) { *out << c.name; }

class Zoo : public testing::TestWithParam<Case> {};

TEST_P(Zoo, FailsWhatItsFaultIsAbout) {
  const auto plan = plan_of(kAll);
  const auto result = judge::judge_run(plan, run(plan, GetParam().behaviour));
  EXPECT_EQ(those(result, Verdict::fail), GetParam().fails) << told(result);
  EXPECT_EQ(those(result, Verdict::inconclusive), GetParam().inconclusive) << told(result);
  EXPECT_EQ(result.verdict, *GetParam().fails ? Verdict::fail : *GetParam().inconclusive ? Verdict::inconclusive : Verdict::pass);
}

// Dragged along, and rightly so: a controller that holds its last output never becomes safe, so its recovery cannot be seen; without dead
// band the mix is off the spec everywhere; a shifted neutral that is shifted at all times is no safe level either; an end 100 us short is
// seen at full stick of the grid too.
INSTANTIATE_TEST_SUITE_P(
    Controllers, Zoo,
    testing::Values(Case{"correct", {}, "", ""}, Case{"holds_last", with([](auto& b) { b.hold_last = true; }), "signal-loss", "recovery"},
                    Case{"ignores_steering_loss", with([](auto& b) { b.ignore_steering_loss = true; }), "signal-loss", ""},
                    Case{"clips", with([](auto& b) { b.clip = true; }), "static-mix", ""},
                    Case{"right_runs_past", with([](auto& b) { b.right_low_us = 992; }), "limits", ""},
                    Case{"right_stops_short", with([](auto& b) { b.right_high_us = 1900; }), "static-mix, limits", ""},
                    Case{"flips_in_reverse", with([](auto& b) { b.flip_in_reverse = true; }), "static-mix", ""},
                    Case{"no_dead_band", with([](auto& b) { b.no_dead_band = true; }), "static-mix, dead-band", ""},
                    Case{"neutral_off_when_armed", with([](auto& b) { b.armed_off_us = 8; }), "neutral", ""},
                    Case{"neutral_off_always", with([](auto& b) { b.neutral_off_us = 8; }), "neutral, signal-loss, power-up", "recovery"},
                    Case{"runt_at_boot", with([](auto& b) { b.runt_at_boot = true; }), "power-up", ""}),
    [](const auto& info) { return info.param.name; });

}  // namespace
}  // namespace midstick::judge_test
