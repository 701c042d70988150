#include <gtest/gtest.h>

#include "tests/link/world.hpp"

namespace midstick::link::test {
namespace {

void send_edges(World& world, std::uint32_t base, std::vector<std::uint8_t> list) {
  world.board.send(protocol::Edges{{base}, {list.data(), static_cast<std::uint8_t>(list.size())}});
  world.run(20 * kMs);
}

TEST(Edges, CarryTheirErrorBoundFromTheBoardsHello) {
  World world;
  ASSERT_TRUE(world.greet());
  send_edges(world, 1000, {0x80, 0, 0x82, 1, 0xC3, 1});
  const auto arrived = world.of<EdgesArrived>();
  ASSERT_EQ(arrived.size(), 1u);
  const auto& edges = arrived[0].edges;
  ASSERT_EQ(edges.size(), 3u);
  EXPECT_EQ(edges[0], (capture::Edge{{1000}, 0, true, 1, false})) << "input capture";
  EXPECT_EQ(edges[1], (capture::Edge{{1001}, 2, true, 4, false})) << "pin change";
  EXPECT_EQ(edges[2], (capture::Edge{{1002}, 3, true, 200, true})) << "delayed by another interrupt, says the board";
}

TEST(Edges, MalformedListIsDroppedWholeAndCounted) {
  World world;
  ASSERT_TRUE(world.greet());
  send_edges(world, 0, {0x80, 0, 0x90, 1});
  EXPECT_TRUE(world.of<EdgesArrived>().empty());
  EXPECT_EQ(world.link.counters().bad_frames, 1u);
}

TEST(Edges, LineThatTheBoardDoesNotHaveMakesTheFrameBad) {
  World world({}, {.pin_change_lines = 3});
  ASSERT_TRUE(world.greet());
  send_edges(world, 1000, {0x84, 0});  // the last of its five
  send_edges(world, 1000, {0x85, 0});
  EXPECT_EQ(world.of<EdgesArrived>().size(), 1u);
  EXPECT_EQ(world.link.counters().bad_frames, 1u);
}

TEST(Edges, MissingFramesAreReportedWithTheirNumber) {
  World world;
  ASSERT_TRUE(world.greet());
  send_edges(world, 1000, {0x80, 0});
  world.board.next_board_seq = static_cast<std::uint8_t>(world.board.next_board_seq + 3);
  send_edges(world, 2000, {0x00, 0});
  const auto lost = world.of<Lost>();
  ASSERT_EQ(lost.size(), 1u);
  EXPECT_EQ(lost[0].frames, 3);
  EXPECT_EQ(world.link.counters().lost_frames, 3u);
}

TEST(Edges, GapThatTheSequenceCannotShowIsSeenByTheEdgeCount) {
  World world;
  ASSERT_TRUE(world.greet());
  world.link.start(500, 0xFF, {world.now});
  ASSERT_TRUE(world.run(100 * kMs, [&] { return world.board.started && world.link.idle(); }));
  send_edges(world, 1000, {0x80, 0});  // the model does not count this one, so the board's total is one short
  world.run(200 * kMs);
  const auto lost = world.of<Lost>();
  ASSERT_EQ(lost.size(), 1u);
  EXPECT_EQ(lost[0].frames, 0);
  EXPECT_EQ(lost[0].edges, -1);
}

TEST(Edges, CountOfARunThatAnotherHostBeganIsNoLossOfOurs) {
  World world;
  ASSERT_TRUE(world.greet());
  protocol::BoardState status{};
  status.boot_id = 7;
  status.state = 2;  // still faulted from before
  status.edges_total = 1234;
  world.board.send(status);
  world.run(20 * kMs);
  ASSERT_EQ(world.of<BoardStatus>().size(), 1u);
  EXPECT_TRUE(world.of<Lost>().empty());
}

TEST(Edges, FrameRepeatedByTheWireIsTakenOnce) {
  World world;
  ASSERT_TRUE(world.greet());
  world.options.write_twice = 1;
  send_edges(world, 1000, {0x80, 0});
  EXPECT_EQ(world.of<EdgesArrived>().size(), 1u);
  EXPECT_TRUE(world.of<Lost>().empty());
}

}  // namespace
}  // namespace midstick::link::test
