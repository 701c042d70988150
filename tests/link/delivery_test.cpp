// Go-back-N against a wire that flips, drops and doubles: every command exactly once, in order, or a clear failure.
#include <gtest/gtest.h>
#include <rapidcheck.h>

#include <numeric>

#include "tests/link/world.hpp"

namespace midstick::link::test {
namespace {

std::vector<std::uint16_t> numbered(int count) {
  std::vector<std::uint16_t> holds(static_cast<std::size_t>(count));
  std::iota(holds.begin(), holds.end(), std::uint16_t{1});
  return holds;
}

TEST(Delivery, QuietWireDeliversEachCommandOnceWithoutSendingAgain) {
  World world;
  ASSERT_TRUE(world.greet());
  for (std::uint16_t hold = 1; hold <= 300; ++hold) world.link.reset_controller(hold, std::nullopt, {world.now});
  ASSERT_TRUE(world.run(5000 * kMs, [&] { return world.link.idle(); }));
  EXPECT_EQ(world.board.holds, numbered(300));
  EXPECT_EQ(world.link.counters().resends, 0u);
}

TEST(Delivery, OneLostCommandIsMadeGoodWithinMilliseconds) {
  World world;
  ASSERT_TRUE(world.greet());
  world.options.drop = 1;
  world.link.reset_controller(1, std::nullopt, {world.now});
  world.run(1 * kMs);
  world.options.drop = 0;
  world.link.reset_controller(2, std::nullopt, {world.now});
  const auto before = world.now;
  ASSERT_TRUE(world.run(1000 * kMs, [&] { return world.link.idle(); }));
  EXPECT_EQ(world.board.holds, numbered(2));
  EXPECT_LT(world.now - before, 10 * kMs) << "the ack of the second shows that the first is missing";
}

TEST(Delivery, UnderLossFlipsAndRepeatsEachCommandArrivesOnceInOrder) {
  const bool held = rc::check("exactly once, in order", [] {
    WireOptions wire;
    wire.seed = *rc::gen::arbitrary<unsigned>();
    wire.flip = *rc::gen::inRange(0, 60) / 1e4;
    wire.drop = *rc::gen::inRange(0, 60) / 1e4;
    wire.twice = *rc::gen::inRange(0, 60) / 1e4;
    wire.write_twice = *rc::gen::inRange(0, 30) / 1e2;
    wire.slot_ns = *rc::gen::element<std::int64_t>(0, 1 * kMs);
    const int count = *rc::gen::inRange(1, 300);
    World world({.seed = wire.seed}, {}, {.ack_tries = 200});
    RC_ASSERT(world.greet());
    world.options = wire;
    for (int hold = 1; hold <= count; ++hold) world.link.reset_controller(static_cast<std::uint16_t>(hold), std::nullopt, {world.now});
    RC_ASSERT(world.run(60'000 * kMs, [&] { return world.link.idle(); }));
    RC_ASSERT(world.board.holds == numbered(count));
  });
  EXPECT_TRUE(held);
}

TEST(Delivery, DeadWireFailsAfterAboutASecond) {
  World world;
  ASSERT_TRUE(world.greet());
  world.unplugged = true;
  world.link.reset_controller(1, std::nullopt, {world.now});
  const auto before = world.now;
  ASSERT_TRUE(world.run(5000 * kMs, [&] { return world.link.failed(); }));
  EXPECT_NEAR(static_cast<double>(world.now - before), 1000.0 * kMs, 100.0 * kMs);
  EXPECT_EQ(world.link.error()->kind, ErrorKind::bench_unfit);
  EXPECT_EQ(world.of<Failed>().size(), 1u);
}

TEST(Delivery, StopGoesAheadOfEverythingThatStillWaits) {
  World world;
  ASSERT_TRUE(world.greet());
  world.link.start(500, 0xFF, {world.now});
  ASSERT_TRUE(world.run(100 * kMs, [&] { return world.board.started; }));
  for (std::uint16_t hold = 1; hold <= 100; ++hold) world.link.reset_controller(hold, std::nullopt, {world.now});
  world.link.stop({world.now});
  ASSERT_TRUE(world.run(1000 * kMs, [&] { return world.link.idle(); }));
  EXPECT_FALSE(world.board.started);
  EXPECT_LE(world.board.holds.size(), protocol::kWindow) << "only what was already under way";
  EXPECT_EQ(world.board.commands.back(), protocol::Stop::kType);
}

TEST(Delivery, RunningBoardIsRefreshedWhileNothingElseIsSaid) {
  World world;
  ASSERT_TRUE(world.greet());
  world.link.start(200, 0xFF, {world.now});
  world.run(3000 * kMs);
  EXPECT_TRUE(world.board.started);
  EXPECT_EQ(world.board.fault, protocol::Fault::none);
}

TEST(Delivery, BoardGoesSafeWhenTheHostSleepsAndTheHostHearsOfIt) {
  World world;
  ASSERT_TRUE(world.greet());
  world.link.start(200, 0xFF, {world.now});
  world.link.power(true, std::nullopt, {world.now});
  ASSERT_TRUE(world.run(100 * kMs, [&] { return world.board.power; }));
  world.host_asleep = true;
  world.run(3000 * kMs);
  EXPECT_FALSE(world.board.power);
  world.host_asleep = false;
  world.run(500 * kMs);
  bool told = false;
  for (const auto& event : world.of<BoardEvent>())
    told = told || (event.code == protocol::EventCode::fault && event.value == static_cast<int>(protocol::Fault::host_silent));
  EXPECT_TRUE(told);
  EXPECT_FALSE(world.link.failed());
}

TEST(Delivery, RefusedCommandIsReportedOnceWithItsText) {
  World world;
  ASSERT_TRUE(world.greet());
  world.link.power(true, std::nullopt, {world.now});
  world.link.reset_controller(1, std::nullopt, {world.now});
  ASSERT_TRUE(world.run(1000 * kMs, [&] { return world.link.idle(); }));
  const auto refused = world.of<Refused>();
  ASSERT_EQ(refused.size(), 1u);
  EXPECT_EQ(refused[0].reason, protocol::Refusal::not_started);
  EXPECT_NE(refused[0].command.find("power seq 1"), std::string::npos) << refused[0].command;
}

TEST(FrameLog, KeepsTheLastHundredFramesEachWayAsText) {
  World world;
  ASSERT_TRUE(world.greet());
  for (std::uint16_t hold = 1; hold <= 300; ++hold) world.link.reset_controller(hold, std::nullopt, {world.now});
  ASSERT_TRUE(world.run(5000 * kMs, [&] { return world.link.idle(); }));
  const std::string text = world.link.recent_frames();
  EXPECT_EQ(std::count(text.begin(), text.end(), '\n'), 200);
  EXPECT_NE(text.find("host  controller_reset seq 45 at=0 ticks now=1 hold=300 ms"), std::string::npos) << text.substr(0, 500);
  EXPECT_NE(text.find("board ack seq"), std::string::npos);
}

}  // namespace
}  // namespace midstick::link::test
