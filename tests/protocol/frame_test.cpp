#include "protocol/frame.hpp"

#include <gtest/gtest.h>

#include <random>
#include <string>
#include <vector>

namespace midstick::protocol {
namespace {

using Bytes = std::vector<std::uint8_t>;

Bytes frame_of(std::uint8_t type, std::uint8_t seq, const Bytes& payload) {
  FixedOutput<512> out;
  FrameEncoder<decltype(out)> encoder(out);
  encoder.begin(type, seq);
  for (auto byte : payload) encoder.put(byte);
  EXPECT_TRUE(encoder.end());
  return {out.data(), out.data() + out.size()};
}

/// The last step that was not `nothing`.
FrameStep feed(FrameDecoder& decoder, const Bytes& bytes) {
  FrameStep last = FrameStep::nothing;
  for (auto byte : bytes)
    if (const FrameStep step = decoder.push(byte); step != FrameStep::nothing) last = step;
  return last;
}

TEST(FrameDecoder, GivesBackTypeSeqAndPayload) {
  FrameDecoder decoder;
  ASSERT_EQ(feed(decoder, frame_of(65, 0, {1, 0, 2})), FrameStep::frame);
  EXPECT_EQ(decoder.type(), 65);
  EXPECT_EQ(decoder.seq(), 0);
  EXPECT_EQ(Bytes(decoder.payload(), decoder.payload() + decoder.payload_size()), (Bytes{1, 0, 2}));
}

TEST(FrameDecoder, CrcIsSentLowByteFirstOverTypeSeqAndPayload) {
  // "123456789" as type, seq and payload: the catalogue's check value 29B1, so B1 29 on the wire.
  const Bytes wire = frame_of('1', '2', {'3', '4', '5', '6', '7', '8', '9'});
  EXPECT_EQ(wire, (Bytes{12, '1', '2', '3', '4', '5', '6', '7', '8', '9', 0xB1, 0x29, 0}));
}

TEST(FrameDecoder, TruncatedTrailingFrameIsIgnored) {
  FrameDecoder decoder;
  Bytes wire = frame_of(1, 1, {5, 6});
  const Bytes second = frame_of(2, 2, {7, 8});
  wire.insert(wire.end(), second.begin(), second.end() - 2);
  EXPECT_EQ(feed(decoder, wire), FrameStep::frame);
  EXPECT_EQ(decoder.push(second[second.size() - 2]), FrameStep::nothing);
  EXPECT_EQ(decoder.push(0), FrameStep::frame) << "and is whole once the rest arrives";
  EXPECT_EQ(decoder.type(), 2);
}

TEST(FrameDecoder, FrameAfterACutOneIsRead) {
  FrameDecoder decoder;
  Bytes wire = frame_of(1, 1, {5, 6, 7});
  wire.resize(3);
  wire.push_back(0);
  EXPECT_NE(feed(decoder, wire), FrameStep::frame);
  EXPECT_EQ(feed(decoder, frame_of(2, 2, {7, 8})), FrameStep::frame);
}

TEST(FrameDecoder, FillerBetweenFramesIsNotAnError) {
  FrameDecoder decoder;
  EXPECT_EQ(feed(decoder, {0, 0, 0}), FrameStep::nothing);
  EXPECT_EQ(feed(decoder, frame_of(9, 1, {})), FrameStep::frame);
}

TEST(FrameDecoder, LongestPayloadFitsAndOneMoreIsTooLong) {
  FrameDecoder decoder;
  const Bytes longest = frame_of(1, 1, Bytes(kMaxPayload, 0xAA));
  EXPECT_EQ(longest.size(), kMaxWireFrame);
  EXPECT_EQ(feed(decoder, longest), FrameStep::frame);
  EXPECT_EQ(decoder.payload_size(), kMaxPayload);
  EXPECT_EQ(feed(decoder, frame_of(1, 1, Bytes(kMaxPayload + 1, 0xAA))), FrameStep::too_long);
  EXPECT_EQ(feed(decoder, frame_of(1, 1, {1})), FrameStep::frame) << "and the next one is read";
}

TEST(FrameDecoder, FewerThanFourBytesAreTooShort) {
  FrameDecoder decoder;
  EXPECT_EQ(feed(decoder, {4, 1, 1, 1, 0}), FrameStep::too_short);
  EXPECT_EQ(feed(decoder, {1, 0}), FrameStep::too_short);
}

TEST(FrameDecoder, EverySingleBitFlipIsRefused) {
  const Bytes good = frame_of(71, 17, {0, 1, 2, 0, 0, 3, 250, 251, 252, 0, 9});
  for (std::size_t bit = 0; bit < good.size() * 8; ++bit) {
    Bytes bad = good;
    bad[bit / 8] = static_cast<std::uint8_t>(bad[bit / 8] ^ (1u << (bit % 8)));
    bad.push_back(0);
    FrameDecoder decoder;
    int frames = 0;
    for (auto byte : bad) frames += decoder.push(byte) == FrameStep::frame;
    EXPECT_EQ(frames, 0) << "bit " << bit;
  }
}

class FrameDecoderNoise : public testing::TestWithParam<unsigned> {};

TEST_P(FrameDecoderNoise, NeverOverrunsAndFindsTheFrameAfterNoise) {
  std::mt19937 random(GetParam());
  FrameDecoder decoder;
  for (int i = 0; i < 200'000; ++i) decoder.push(static_cast<std::uint8_t>(random() % 256 < 250 ? random() : 0));
  decoder.push(0);
  EXPECT_EQ(feed(decoder, frame_of(3, 4, {5})), FrameStep::frame);
}
INSTANTIATE_TEST_SUITE_P(Seeds, FrameDecoderNoise, testing::Range(1u, 6u));

}  // namespace
}  // namespace midstick::protocol
