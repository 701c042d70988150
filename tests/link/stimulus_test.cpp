#include <gtest/gtest.h>

#include "tests/link/world.hpp"

namespace midstick::link::test {
namespace {

bool begin(World& world) {
  if (!world.greet()) return false;
  world.link.start(500, 0xFF, {world.now});
  if (!world.run(200 * kMs, [&] { return world.board.started && world.link.idle(); })) return false;
  world.link.query_clock({world.now});
  return world.run(200 * kMs, [&] { return !world.of<ClockSampled>().empty(); });
}

std::vector<ModelBoard::Done> expected(const std::vector<StimulusEdge>& edges) {
  std::vector<ModelBoard::Done> done;
  for (const auto& edge : edges) done.push_back({edge.at.count, edge.line, edge.level});
  return done;
}

void sort(std::vector<ModelBoard::Done>& done) {
  std::sort(done.begin(), done.end(), [](const auto& a, const auto& b) { return std::pair(a.tick, a.line) < std::pair(b.tick, b.line); });
}

struct Load {
  int frames, lines, period_us;
  std::int64_t slot_ns;
};
class Stimulus : public testing::TestWithParam<Load> {};

TEST_P(Stimulus, EveryEdgeIsCarriedOutAndNoQueueIsEverOverrun) {
  const Load load = GetParam();
  World world({.slot_ns = load.slot_ns});
  ASSERT_TRUE(begin(world));
  const auto edges = pulses(*world.link.board_now({world.now}) + BoardSpan{16'000 * 50}, load.frames, load.lines, load.period_us);
  world.link.stimulate(edges, {world.now});
  ASSERT_TRUE(
      world.run(20'000 * kMs, [&] { return world.board.done.size() == edges.size() || world.board.refused != protocol::Refusal::none; }))
      << world.board.done.size() << " of " << edges.size();
  EXPECT_EQ(world.board.refused, protocol::Refusal::none);
  auto want = expected(edges);
  sort(want);
  sort(world.board.done);
  EXPECT_EQ(world.board.done, want);
  EXPECT_TRUE(world.of<Lost>().empty());
}
INSTANTIATE_TEST_SUITE_P(Loads, Stimulus,
                         testing::Values(Load{100, 6, 20'000, 0}, Load{100, 6, 20'000, 1 * kMs}, Load{1000, 6, 3'000, 0},
                                         Load{1000, 6, 3'000, 1 * kMs}, Load{20, 1, 400'000, 1 * kMs}));

TEST(StimulusFrames, AreNotSmallerThanTheyNeedToBe) {
  World world;
  ASSERT_TRUE(begin(world));
  const auto edges = pulses(*world.link.board_now({world.now}) + BoardSpan{16'000 * 50}, 1000, 6, 3'000);
  const auto before = world.link.counters().frames_out;
  world.link.stimulate(edges, {world.now});
  ASSERT_TRUE(world.run(20'000 * kMs, [&] { return world.board.done.size() == edges.size(); }));
  EXPECT_LT(world.link.counters().frames_out - before, edges.size() / 8);
}

TEST(StimulusFrames, SurviveALossyWireWithoutALateEdge) {
  std::uint64_t resends = 0;
  for (unsigned seed = 1; seed <= 20; ++seed) {
    World world({.seed = seed, .slot_ns = 1 * kMs});
    ASSERT_TRUE(begin(world));
    world.options.flip = world.options.drop = 2e-4;
    const auto edges = pulses(*world.link.board_now({world.now}) + BoardSpan{16'000 * 200}, 200, 6, 20'000);
    world.link.stimulate(edges, {world.now});
    ASSERT_TRUE(world.run(20'000 * kMs, [&] { return world.board.done.size() == edges.size() || world.link.failed(); })) << "seed " << seed;
    EXPECT_EQ(world.board.refused, protocol::Refusal::none) << "seed " << seed;
    resends += world.link.counters().resends;
  }
  EXPECT_GT(resends, 10u) << "or nothing was put to the test";
}

TEST(StimulusFrames, EdgesFurtherAheadThanTheBoardTakesWait) {
  World world;
  ASSERT_TRUE(begin(world));
  const BoardTime now = *world.link.board_now({world.now});
  const auto edges = pulses(now + BoardSpan{3 * 16'000'000}, 1, 1, 20'000);  // 3 s ahead, the board takes 1 s
  world.link.stimulate(edges, {world.now});
  world.run(1500 * kMs);
  EXPECT_EQ(world.link.waiting_stimulus(), 2u);
  ASSERT_TRUE(world.run(3000 * kMs, [&] { return world.board.done.size() == 2; }));
}

TEST(StimulusFrames, StartForgetsWhatStillWaits) {
  World world;
  ASSERT_TRUE(begin(world));
  world.link.stimulate(pulses(*world.link.board_now({world.now}) + BoardSpan{16'000'000}, 500, 6, 20'000), {world.now});
  world.link.start(500, 0xFF, {world.now});
  ASSERT_TRUE(world.run(2000 * kMs, [&] { return world.link.idle(); }));
  world.run(1000 * kMs);
  EXPECT_TRUE(world.board.done.empty());
}

TEST(StimulusFrames, WorkAcrossTheWrapOfTheWireTick) {
  World world({}, {.first_tick = 0xFFFFFFFF - 16'000'000u});
  ASSERT_TRUE(begin(world));
  const auto edges = pulses(*world.link.board_now({world.now}) + BoardSpan{16'000 * 50}, 150, 2, 20'000);
  world.link.stimulate(edges, {world.now});
  ASSERT_TRUE(world.run(5000 * kMs, [&] { return world.board.done.size() == edges.size(); }));
  EXPECT_GT(edges.back().at.count, 0x100000000);
  std::vector<std::uint64_t> stamps;
  for (const auto& arrived : world.of<EdgesArrived>())
    for (const auto& edge : arrived.edges) stamps.push_back(static_cast<std::uint64_t>(edge.at.count));
  world.board.responses.resize(stamps.size());
  EXPECT_EQ(stamps, world.board.responses) << "widened stamps are the board's own";
  EXPECT_GT(stamps.size(), 500u);
}

}  // namespace
}  // namespace midstick::link::test
