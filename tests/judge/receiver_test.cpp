// The checks receiver, wiring-fault and host-port: seen failing, with the right cause, and left out where a part is missing.
#include <gtest/gtest.h>

#include <algorithm>

#include "tests/judge/world.hpp"

namespace midstick::judge_test {
namespace {

using judge::Verdict;

const judge::CheckResult& only(const judge::RunResult& run) { return run.checks.at(0); }

std::string first_cause(const judge::RunResult& run) { return only(run).causes.empty() ? "" : only(run).causes[0].id; }

TEST(ReceiverCheck, JunkObeyedAtTheReceiversStartFails) {
  Behaviour b;
  b.obeys_first_frames = 3;
  const auto p = plan_of({"receiver"});
  const auto result = judge::judge_run(p, run(p, b));
  EXPECT_EQ(result.verdict, Verdict::fail) << told(result);
  EXPECT_EQ(first_cause(result), "junk-obeyed") << told(result);
}

TEST(ReceiverCheck, ThrottleKeptWhileItAloneIsSilentFails) {
  Behaviour b;
  b.hold_last = true;
  const auto p = plan_of({"receiver"});
  const auto result = judge::judge_run(p, run(p, b));
  EXPECT_EQ(result.verdict, Verdict::fail) << told(result);
  EXPECT_EQ(first_cause(result), "one-channel-loss");
  // The time that never came is no reading, and the behaviour's name is told in words.
  EXPECT_NE(only(result).summary.find(": never safe within 8"), std::string::npos) << only(result).summary;
  EXPECT_EQ(only(result).summary.find('_'), std::string::npos) << only(result).summary;
}

TEST(ReceiverCheck, EveryNamedBehaviourPassesOnACorrectController) {
  const auto p = plan_with(R"([{"check": "receiver",
    "loss": ["silent", "hold_last", "preset", "throttle_silent_others_hold", "some_channels", "frozen_high", "low_then_silent",
             "neutral_then_silent", "all_880", "throttle_920"],
    "boot": ["throttle_silent_until_link", "preset_before_link", "noise_before_firmware", "one_junk_frame_then_silence",
             "one_low_frame_then_silence"], "entry_ms": 200}])");
  const auto result = judge::judge_run(p, run(p));
  EXPECT_EQ(result.verdict, Verdict::pass) << told(result);
}

TEST(ReceiverCheck, KickBeyondWhatWasSentFails) {
  Behaviour b;
  b.kick_on_loss = true;
  const auto p = plan_of({"receiver"});
  const auto result = judge::judge_run(p, run(p, b));
  EXPECT_EQ(result.verdict, Verdict::fail) << told(result);
  EXPECT_EQ(measure(only(result), "beyond what was sent")->verdict, Verdict::fail);
}

TEST(ReceiverCheck, TakesAtMostFifteenSeconds) {
  const auto p = plan_of({"receiver"});
  EXPECT_LT(length_ms(run(p)), 15'000);
}

TEST(NotRun, WithoutAPartTheCheckTakesNoTimeAndDoesNotCount) {
  const auto p = plan_of({"neutral", "wiring-fault", "host-port"});
  const auto record = run(p);
  EXPECT_EQ(record.segments.size(), 1u);
  const auto result = judge::judge_run(p, record);
  EXPECT_EQ(result.verdict, Verdict::pass) << told(result);
  EXPECT_TRUE(result.checks[0].not_run.empty());
  EXPECT_NE(result.checks[1].not_run.find("neither a relay nor a hand"), std::string::npos);
  EXPECT_NE(result.checks[2].not_run.find("no serial port"), std::string::npos);
  EXPECT_EQ(result.summary, "1 passed, 0 failed, 0 inconclusive, 2 not run.");
}

TEST(NotRun, RunOfNothingElseIsNoPass) {
  const auto p = plan_of({"wiring-fault"});
  EXPECT_EQ(judge::judge_run(p, run(p)).verdict, Verdict::inconclusive);
}

TEST(NotRun, SaysWhoIsMissing) {
  for (const auto& [by, words] : {std::pair("nobody", "without --hand"), {"virtual", "virtual bench"}}) {
    const auto p = plan_with(R"([{"check": "wiring-fault", "by": ")" + std::string(by) + "\"}]");
    EXPECT_NE(only(judge::judge_run(p, run(p))).not_run.find(words), std::string::npos) << by;
  }
}

script::Plan with_relay(const std::string& more = "") {
  auto p = plan_with(R"([{"check": "wiring-fault")" + more + "}]");
  p.controller.relays = {{"ground", "S6", 5}};
  p.checks[0].params["by"] = "ground";
  return p;
}

TEST(WiringFault, RelayThatTakesThePulsesAwayPassesWhereTheOutputsGoSafe) {
  Behaviour b;
  b.deaf_while_high = 5;
  const auto p = with_relay();
  const auto result = judge::judge_run(p, run(p, b));
  EXPECT_EQ(result.verdict, Verdict::pass) << told(result);
}

TEST(WiringFault, OutputsThatGoOnFail) {
  const auto p = with_relay();
  EXPECT_EQ(judge::judge_run(p, run(p)).verdict, Verdict::fail) << "the relay changes nothing, so the outputs stay driven";
}

TEST(WiringFault, HandThatChangesNothingFails) {
  const auto p = plan_with(R"([{"check": "wiring-fault", "by": "hand"}])");
  const auto record = run(p);
  EXPECT_EQ(judge::judge_run(p, record).verdict, Verdict::fail);
  const auto& marks = record.segments[0].marks;
  const auto told_to = std::count_if(marks.begin(), marks.end(), [](const auto& m) { return m.label.starts_with("by hand: "); });
  EXPECT_EQ(told_to, 2) << "what to do, and to put it back";
}

TEST(WiringFault, SupplyDipRiddenThroughPasses) {
  const auto p = with_relay(R"(, "what": "supply_dip", "for_ms": 100)");
  EXPECT_EQ(judge::judge_run(p, run(p)).verdict, Verdict::pass);
}

script::Plan with_port() {
  auto p = plan_of({"host-port"});
  p.controller.serial = "/dev/none";
  return p;
}

TEST(HostPort, UndisturbedOutputsPass) {
  const auto p = with_port();
  const auto result = judge::judge_run(p, run(p));
  EXPECT_EQ(result.verdict, Verdict::pass) << told(result);
}

TEST(HostPort, RestartAtTheOpeningFails) {
  Behaviour b;
  b.port_resets = true;
  const auto p = with_port();
  const auto result = judge::judge_run(p, run(p, b));
  EXPECT_EQ(result.verdict, Verdict::fail) << told(result);
  EXPECT_EQ(first_cause(result), "port-resets");
}

TEST(HostPort, NoEdgesIsNoPass) {
  const auto p = with_port();
  auto record = run(p);
  record.response.clear();
  EXPECT_EQ(judge::judge_run(p, record).verdict, Verdict::inconclusive);
}

}  // namespace
}  // namespace midstick::judge_test
