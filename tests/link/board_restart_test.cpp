#include <gtest/gtest.h>

#include "tests/link/world.hpp"

namespace midstick::link::test {
namespace {

bool begin(World& world) {
  if (!world.greet()) return false;
  world.link.start(500, 0xFF, {world.now});
  return world.run(300 * kMs, [&] { return world.board.started && !world.of<BoardStatus>().empty(); });
}

TEST(BoardRestart, HelloUnaskedEndsTheLink) {
  World world;
  ASSERT_TRUE(begin(world));
  world.board.boot({.boot_id = 8}, world.now);
  ASSERT_TRUE(world.run(100 * kMs, [&] { return world.link.failed(); }));
  const auto restarts = world.of<Restarted>();
  ASSERT_EQ(restarts.size(), 1u);
  EXPECT_EQ(restarts[0].old_boot, 7u);
  EXPECT_EQ(restarts[0].new_boot, 8u);
  EXPECT_EQ(world.link.error()->kind, ErrorKind::bench_unfit);
}

TEST(BoardRestart, IsSeenEvenWhenTheBootCounterStandsStill) {
  World world;
  ASSERT_TRUE(begin(world));
  world.board.boot({.boot_id = 7}, world.now);
  ASSERT_TRUE(world.run(3000 * kMs, [&] { return world.link.failed(); }));
  EXPECT_EQ(world.of<Restarted>().size(), 1u);
}

TEST(BoardRestart, IsSeenFromTheBootIdInStatusWhenItsHelloWasLost) {
  World world;
  ASSERT_TRUE(begin(world));
  protocol::BoardState status{};
  status.boot_id = 9;
  world.board.send(status);
  ASSERT_TRUE(world.run(100 * kMs, [&] { return world.link.failed(); }));
  EXPECT_EQ(world.of<Restarted>().at(0).new_boot, 9u);
}

TEST(BoardRestart, SilentRestartIsNeverMistakenForABoardThatWorks) {
  World world;
  ASSERT_TRUE(begin(world));
  world.options.drop = 1;  // the hello after boot is lost
  world.board.boot({.boot_id = 7}, world.now);
  world.run(1 * kMs);
  world.options.drop = 0;
  EXPECT_TRUE(world.run(3000 * kMs, [&] { return world.link.failed(); })) << "acks of a board that forgot us are no progress";
}

TEST(BoardRestart, FailedLinkIgnoresCommandsAndBytes) {
  World world;
  ASSERT_TRUE(begin(world));
  world.board.boot({.boot_id = 8}, world.now);
  ASSERT_TRUE(world.run(100 * kMs, [&] { return world.link.failed(); }));
  world.link.power(true, std::nullopt, {world.now});
  EXPECT_TRUE(world.link.take_output().empty());
}

}  // namespace
}  // namespace midstick::link::test
