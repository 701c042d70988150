#include "protocol/edge_list.hpp"

#include <gtest/gtest.h>
#include <rapidcheck.h>

#include <vector>

namespace midstick::protocol {
namespace {

using Bytes = std::vector<std::uint8_t>;
struct ByteSink {
  Bytes bytes;
  void put(std::uint8_t byte) { bytes.push_back(byte); }
};
bool same(const EdgeRecord& a, const EdgeRecord& b) {
  return a.at == b.at && a.line == b.line && a.level == b.level && a.delayed == b.delayed;
}

TEST(EdgeList, ShortDistancesTakeTwoBytesAndAFullPulseThree) {
  ByteSink sink;
  EdgeWriter writer(WireTick{1000});
  EXPECT_EQ(writer.put(sink, {WireTick{1000}, 3, true, false}), 2);
  EXPECT_EQ(writer.put(sink, {WireTick{1000 + 24'000}, 3, false, false}), 3) << "1500 us";
  EXPECT_EQ(writer.put(sink, {WireTick{1000 + 24'000 + 296'000}, 3, true, false}), 4) << "18.5 ms";
  EXPECT_EQ(writer.put(sink, {WireTick{1000 + 24'000 + 296'000 + 0x1000000}, 3, false, false}), kMaxEdgeBytes);
  EXPECT_EQ(Bytes(sink.bytes.begin(), sink.bytes.begin() + 5), (Bytes{0x83, 0x00, 0x13, 0xC0, 0x5D}));
}

TEST(EdgeList, AStampOlderThanTheOneBeforeIsMarkedBackwards) {
  ByteSink sink;
  EdgeWriter writer(WireTick{100});
  writer.put(sink, {WireTick{40}, 2, true, true});
  EXPECT_EQ(sink.bytes, (Bytes{0xCA, 60}));
  EdgeReader reader(WireTick{100}, {sink.bytes.data(), 2});
  EdgeRecord edge{};
  ASSERT_EQ(reader.next(edge), EdgeStep::edge);
  EXPECT_TRUE(reader.backwards());
  EXPECT_EQ(edge.at, WireTick{40});
  EXPECT_TRUE(edge.delayed);
}

TEST(EdgeList, CountsOnAcrossTheWrap) {
  ByteSink sink;
  EdgeWriter writer(WireTick{0xFFFFFFF0});
  writer.put(sink, {WireTick{0x10}, 0, true, false});
  EXPECT_EQ(sink.bytes.size(), 2u);
  EdgeReader reader(WireTick{0xFFFFFFF0}, {sink.bytes.data(), 2});
  EdgeRecord edge{};
  ASSERT_EQ(reader.next(edge), EdgeStep::edge);
  EXPECT_EQ(edge.at, WireTick{0x10});
}

TEST(EdgeList, ListThatEndsInsideAnEdgeIsMalformed) {
  for (const Bytes& bytes : {Bytes{0x80}, Bytes{0x90, 1}, Bytes{0xA0, 1, 2}, Bytes{0xB0, 1, 2, 3}}) {
    EdgeReader reader(WireTick{0}, {bytes.data(), static_cast<std::uint8_t>(bytes.size())});
    EdgeRecord edge{};
    EXPECT_EQ(reader.next(edge), EdgeStep::malformed);
  }
}

TEST(EdgeList, DistanceOfHalfTheClockOrMoreIsMalformed) {
  const Bytes bytes{0xB0, 0, 0, 0, 0x80};
  EdgeReader reader(WireTick{0}, {bytes.data(), 5});
  EdgeRecord edge{};
  EXPECT_EQ(reader.next(edge), EdgeStep::malformed);
}

TEST(EdgeList, AnyEdgesComeBack) {
  const bool held = rc::check("round trip", [] {
    const auto base = *rc::gen::arbitrary<std::uint32_t>();
    const auto count = *rc::gen::inRange(0, kMaxEdgeListBytes / kMaxEdgeBytes + 1);
    std::vector<EdgeRecord> edges;
    WireTick at{base};
    for (int i = 0; i < count; ++i) {
      const auto bits = *rc::gen::inRange(0, 31);
      const auto step = *rc::gen::inRange<std::int32_t>(-(1 << bits) + 1, 1 << bits);
      at = at + step;
      edges.push_back({at, static_cast<std::uint8_t>(*rc::gen::inRange(0, 8)), *rc::gen::arbitrary<bool>(), *rc::gen::arbitrary<bool>()});
    }
    ByteSink sink;
    EdgeWriter writer(WireTick{base});
    for (const auto& edge : edges) writer.put(sink, edge);
    RC_ASSERT(sink.bytes.size() <= kMaxEdgeListBytes);
    EdgeReader reader(WireTick{base}, {sink.bytes.data(), static_cast<std::uint8_t>(sink.bytes.size())});
    EdgeRecord edge{};
    for (const auto& expected : edges) {
      RC_ASSERT(reader.next(edge) == EdgeStep::edge);
      RC_ASSERT(same(edge, expected));
    }
    RC_ASSERT(reader.next(edge) == EdgeStep::end);
  });
  EXPECT_TRUE(held);
}

template <class T>
constexpr bool kHasOrder = requires(T a, T b) {
  a < b;
};
static_assert(!kHasOrder<WireTick>, "a wrapping tick has no order, only signed differences");

TEST(WireTick, DifferenceIsSignedAcrossTheWrap) {
  EXPECT_EQ(WireTick{5} - WireTick{0xFFFFFFFB}, 10);
  EXPECT_EQ(WireTick{0xFFFFFFFB} - WireTick{5}, -10);
}

}  // namespace
}  // namespace midstick::protocol
