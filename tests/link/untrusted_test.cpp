// Whatever the bytes, the link neither crashes nor passes nonsense on.
#include <gtest/gtest.h>

#include "tests/link/world.hpp"

namespace midstick::link::test {
namespace {

class Noise : public testing::TestWithParam<unsigned> {};

TEST_P(Noise, IsDroppedBeforeAndAfterHello) {
  std::mt19937 random(GetParam());
  World world;
  ASSERT_TRUE(world.greet());
  std::vector<std::uint8_t> bytes(100'000);
  for (auto& byte : bytes) byte = static_cast<std::uint8_t>(random() % 8 ? random() : 0);
  world.link.on_bytes(bytes, {world.now});
  EXPECT_GT(world.link.counters().bad_frames, 1000u);
}

TEST_P(Noise, WellFramedNonsenseIsDroppedOrBounded) {
  std::mt19937 random(GetParam());
  World world;
  ASSERT_TRUE(world.greet());
  world.link.start(500, 0xFF, {world.now});
  for (int i = 0; i < 20'000; ++i) {
    protocol::FixedOutput<protocol::kMaxWireFrame> out;
    protocol::FrameEncoder<decltype(out)> frame(out);
    frame.begin(static_cast<std::uint8_t>(random() % 2 ? 65 + random() % 8 : random()), static_cast<std::uint8_t>(random()));
    const auto size = random() % (protocol::kMaxPayload + 1);
    for (unsigned k = 0; k < size; ++k) frame.put(static_cast<std::uint8_t>(random()));
    ASSERT_TRUE(frame.end());
    if (world.link.failed()) world.link.open({world.now});
    world.link.on_bytes({out.data(), out.size()}, {world.now += 1000});
    world.link.take_output();
    while (const auto event = world.link.next_event())
      if (const auto* edges = std::get_if<EdgesArrived>(&*event))
        for (const auto& edge : edges->edges) {
          ASSERT_LT(edge.line, 8);
          ASSERT_GE(edge.half_width, 1);
        }
  }
  EXPECT_FALSE(world.link.recent_frames().empty());
}
INSTANTIATE_TEST_SUITE_P(Seeds, Noise, testing::Range(1u, 6u));

}  // namespace
}  // namespace midstick::link::test
