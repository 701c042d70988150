#include <gtest/gtest.h>

#include "tests/link/world.hpp"

namespace midstick::link::test {
namespace {

TEST(ClockExchange, BoundsHoldTheTruthWhateverThePathDelays) {
  for (std::int64_t slot : {std::int64_t{0}, 1 * kMs, 16 * kMs}) {
    World world({.slot_ns = slot});
    ASSERT_TRUE(world.greet());
    world.run(50 * kMs);  // the board says hello twice: let that pass
    for (int i = 0; i < 50; ++i) {
      world.link.query_clock({world.now});
      world.run(37 * kMs);
    }
    const auto samples = world.of<ClockSampled>();
    ASSERT_EQ(samples.size(), 50u);
    for (const auto& [sample] : samples) {
      // The model's clock is exact: tick / 0.016 is true ns.
      EXPECT_GE(sample.board_received.count / 0.016 + 63, static_cast<double>(sample.asked.count));
      EXPECT_LE(sample.board_sent.count / 0.016, static_cast<double>(sample.answered.count));
      EXPECT_LT((sample.answered - sample.asked).count, 3 * slot + 500'000);
    }
  }
}

TEST(ClockExchange, OwnWireTimeIsNotInTheRoundTrip) {
  World world;
  ASSERT_TRUE(world.greet());
  world.run(50 * kMs);
  for (int i = 0; i < 20; ++i) {
    world.link.query_clock({world.now});
    world.run(37 * kMs);
  }
  const auto samples = world.of<ClockSampled>();
  ASSERT_EQ(samples.size(), 20u);
  std::int64_t shortest = 1 * kMs;
  for (const auto& [s] : samples)
    shortest = std::min(shortest, (s.answered - s.asked).count - (s.board_sent - s.board_received).count * 1000 / kTicksPerUs);
  // 14 bytes there and back are 0.5 ms on the wire; the model's delay is 0.05 ms each way.
  EXPECT_GE(shortest, 2 * world.options.delay_ns);
  EXPECT_LT(shortest, 2 * world.options.delay_ns + 100'000);
}

TEST(ClockExchange, LostQueryIsNeverRepeated) {
  World world;
  ASSERT_TRUE(world.greet());
  world.options.drop = 1;
  world.link.query_clock({world.now});
  world.run(10 * kMs);
  world.options.drop = 0;
  world.run(2000 * kMs);
  EXPECT_TRUE(world.of<ClockSampled>().empty());
  EXPECT_TRUE(world.link.idle());
}

TEST(ClockExchange, ReplyNobodyAskedForIsABadFrame) {
  World world;
  ASSERT_TRUE(world.greet());
  world.board.send(protocol::ClockReply{99, {1}, {2}});
  world.run(10 * kMs);
  EXPECT_TRUE(world.of<ClockSampled>().empty());
  EXPECT_EQ(world.link.counters().bad_frames, 1u);
}

TEST(TickWidener, CarriesOnOverSilencesLongerThanAWrap) {
  TickWidener ticks;
  ticks.anchor({1000}, {0});
  const std::int64_t hour = 3'600'000'000'000;
  const std::int64_t truth = 1000 + hour / 1000 * 16;
  EXPECT_EQ(ticks.widen({static_cast<std::uint32_t>(truth)}, {hour}).count, truth);
}

TEST(TickWidener, StampsBeforeTheNewestStayBefore) {
  TickWidener ticks;
  ticks.anchor({10}, {0});
  EXPECT_EQ(ticks.widen({0xFFFFFFFF}, {0}).count, -1);
}

}  // namespace
}  // namespace midstick::link::test
