// Serial faults in virtual time: bytes flipped, dropped, doubled, the device unplugged and back, the host stopped for 3 s, the board reset
// in mid-run.
//
// Whatever happens: never a pass built on missing data, pulses and controller power off within the stated time once the host is gone, a
// reason in words, no hang. The truth about pulses and power is the virtual bench's own record. 1,000 seeds in virtual time are the soak; a
// normal test run takes the first 60.
#include <cstdlib>
#include <random>

#include "daemon/engine/player.hpp"
#include "daemon/engine/programme.hpp"
#include "daemon/engine/session.hpp"
#include "daemon/judge/check.hpp"
#include "daemon/script/load.hpp"
#include "fixtures/virtual/bench.hpp"
#include "tests/e2e/whole_run.hpp"

namespace midstick::e2e {
namespace {

using virtual_bench::TrueEdge;
using virtual_bench::VirtualBench;
using virtual_bench::VirtualBenchOptions;
using virtual_bench::Wire;

/// A trouble drawn from a seed: which kinds, how strong, when. Times in ms of virtual time; a run takes about 8 s.
VirtualBenchOptions trouble(std::uint64_t seed, const script::ControllerDescription& controller) {
  std::mt19937_64 random(seed);
  const auto chance = [&random](int one_in) { return random() % static_cast<unsigned>(one_in) == 0; };
  const auto up_to = [&random](std::int64_t n) { return static_cast<std::int64_t>(random() % static_cast<std::uint64_t>(n)); };
  VirtualBenchOptions o;
  o.controller = controller;
  o.seed = seed;
  o.serial.latency_us = up_to(3000);
  o.serial.usb_slot_us = chance(2) ? 1000 : 0;
  o.serial.latency_timer_us = chance(4) ? 16'000 : 0;
  const double rate = chance(2) ? 0.0 : 1e-5 * static_cast<double>(1 + up_to(200));
  for (auto* faults : {&o.serial.to_board, &o.serial.to_host}) {
    if (chance(2)) faults->flip = rate;
    if (chance(3)) faults->drop = rate;
    if (chance(3)) faults->twice = rate;
  }
  const auto when = [&] { return HostTime{(500 + up_to(8000)) * 1'000'000}; };
  if (chance(4)) o.unplugs.push_back({when(), std::nullopt, false});
  if (chance(4)) o.pauses.push_back({when(), host_ms(3000)});
  if (chance(4)) o.board_resets.push_back(when());
  if (chance(6)) o.stop_loop.push_back({when(), false});
  return o;
}

/// Level of a wire at the end of a record.
bool last_level(const virtual_bench::TruthRecord& truth, Wire wire, std::uint8_t line) {
  bool level = false;
  for (const TrueEdge& e : truth)
    if (e.wire == wire && e.line == line) level = e.level;
  return level;
}
std::int64_t last_edge_ps(const virtual_bench::TruthRecord& truth, Wire wire) {
  std::int64_t at = 0;
  for (const TrueEdge& e : truth)
    if (e.wire == wire) at = e.true_ps;
  return at;
}

/// Time the board may take from the last good command to silence: its refresh time, and one pass of its own loop.
constexpr std::int64_t kSafeWithinMs = engine::kRefreshMs + 10;

void play_one(std::uint64_t seed, const script::Plan& plan, const engine::Programme& programme) {
  SCOPED_TRACE("seed " + std::to_string(seed));
  auto bench = VirtualBench::make(trouble(seed, plan.controller));
  ASSERT_TRUE(bench.ok()) << bench.error().message;
  static const std::atomic<bool> never{false};
  engine::Session session(**bench, never);
  std::optional<engine::PlayOutcome> outcome;
  std::optional<Error> early;
  if (auto s = session.open(); !s) early = s.error();
  if (!early)
    if (auto s = session.settle_clock(100, host_ms(10'000)); !s) early = s.error();
  if (!early) outcome = engine::play(session, programme, plan.controller, {});

  const HostTime let_go = (*bench)->now();
  EXPECT_LT(let_go.count, host_ms(60'000).count) << "took far longer than the plan";
  (*bench)->run_for(host_ms(1500));
  const auto& truth = (*bench)->truth();
  for (std::uint8_t line = 0; line < 6; ++line)
    EXPECT_FALSE(last_level(truth, Wire::stimulus, line)) << "stimulus line " << int{line} << " left high";
  EXPECT_FALSE(last_level(truth, Wire::relay, 0)) << "controller power left on";
  const std::int64_t deadline_ps = (let_go.count + kSafeWithinMs * 1'000'000) * 1000;
  EXPECT_LE(last_edge_ps(truth, Wire::stimulus), deadline_ps) << "pulses went on after the host let go";
  EXPECT_LE(last_edge_ps(truth, Wire::relay), deadline_ps);

  if (early) {
    EXPECT_FALSE(early->message.empty());
    return;
  }
  if (outcome->cut_short) {
    EXPECT_FALSE(outcome->cut_short->message.empty());
    EXPECT_FALSE(outcome->capture.complete);
  }
  const auto result = judge::judge_run(plan, outcome->capture);
  if (outcome->cut_short) {
    EXPECT_NE(result.verdict, judge::Verdict::pass);
  }
  if (result.verdict != judge::Verdict::pass) return;
  // A pass must stand on every response edge there was: the record of truth says how many.
  std::int64_t true_edges = 0;
  const auto in_capture = [&](const TrueEdge& e) {
    const BoardTime at = outcome->capture.clock.to_board({e.true_ps / 1000});
    return at >= outcome->capture.segments.front().begin && at < outcome->capture.segments.back().end;
  };
  for (const TrueEdge& e : truth) true_edges += e.wire == Wire::response && in_capture(e);
  std::int64_t seen = 0;
  for (const auto& e : outcome->capture.response)
    seen += e.at >= outcome->capture.segments.front().begin && e.at < outcome->capture.segments.back().end;
  EXPECT_NEAR(static_cast<double>(seen), static_cast<double>(true_edges), 2) << "a pass on missing edges";  // 2: edges on the very ends
}

struct Tally {
  int from, count;
};
class FaultSchedules : public testing::TestWithParam<Tally> {};

TEST_P(FaultSchedules, NeverAPassOnMissingDataAndAlwaysSafe) {
  auto plan = script::load_plan(source("tests/e2e/short.json").string());
  ASSERT_TRUE(plan.ok()) << plan.error().message;
  auto programme = engine::compose(plan.value(), 3);
  ASSERT_TRUE(programme.ok()) << programme.error().message;
  for (int i = 0; i < GetParam().count; ++i) play_one(static_cast<std::uint64_t>(GetParam().from + i), plan.value(), programme.value());
}

INSTANTIATE_TEST_SUITE_P(InVirtualTime, FaultSchedules, testing::Values(Tally{1, 30}, Tally{31, 30}));
INSTANTIATE_TEST_SUITE_P(Soak, FaultSchedules, testing::Values(Tally{1, 500}, Tally{501, 500}));

}  // namespace
}  // namespace midstick::e2e
