// Vectors: S. Cheshire, M. Baker, "Consistent Overhead Byte Stuffing", IEEE/ACM Transactions on Networking 7(2), April 1999, figures 2
// and 3, and the examples table of the public encyclopaedia's article on COBS. A packet that ends exactly on a full block of 254
// is written in two ways in the world: the paper's listing appends a final 01, later codecs do not. We do not; we read both.
#include "protocol/cobs.hpp"

#include <gtest/gtest.h>
#include <rapidcheck.h>

#include <optional>
#include <string>
#include <vector>

#include "protocol/frame.hpp"

namespace midstick::protocol {
namespace {

using Bytes = std::vector<std::uint8_t>;

Bytes encode_cobs(const Bytes& raw) {
  FixedOutput<4096> out;
  CobsEncoder<decltype(out)> encoder(out);
  encoder.begin();
  for (auto byte : raw) encoder.put(byte);
  EXPECT_TRUE(encoder.end());
  EXPECT_EQ(out.data()[out.size() - 1], 0);
  return {out.data(), out.data() + out.size() - 1};
}

/// The packet, or nothing when it is refused.
std::optional<Bytes> decode_cobs(const Bytes& encoded) {
  CobsDecoder decoder;
  Bytes raw;
  std::uint8_t byte = 0;
  for (auto wire : encoded) {
    const CobsStep step = decoder.push(wire, byte);
    if (step == CobsStep::byte)
      raw.push_back(byte);
    else if (step != CobsStep::nothing)
      return std::nullopt;
  }
  if (decoder.push(0, byte) != CobsStep::end) return std::nullopt;
  return raw;
}

Bytes counting(int from, int to) {
  Bytes bytes;
  for (int value = from; value <= to; ++value) bytes.push_back(static_cast<std::uint8_t>(value));
  return bytes;
}
Bytes join(std::initializer_list<Bytes> parts) {
  Bytes all;
  for (const auto& part : parts) all.insert(all.end(), part.begin(), part.end());
  return all;
}

struct Vector {
  const char* name;
  Bytes raw, encoded;
};

const Vector kVectors[] = {
    {"paper figure 3",
     {0x45, 0, 0, 0x2C, 0x4C, 0x79, 0, 0, 0x40, 0x06, 0x4F, 0x37},
     {0x02, 0x45, 0x01, 0x04, 0x2C, 0x4C, 0x79, 0x01, 0x05, 0x40, 0x06, 0x4F, 0x37}},
    {"paper figure 2", join({Bytes(679, 1), {0}}), join({{0xFF}, Bytes(254, 1), {0xFF}, Bytes(254, 1), {0xAC}, Bytes(171, 1), {0x01}})},
    {"table 1", {0}, {1, 1}},
    {"table 2", {0, 0}, {1, 1, 1}},
    {"table 3", {0, 0x11, 0}, {1, 2, 0x11, 1}},
    {"table 4", {0x11, 0x22, 0, 0x33}, {3, 0x11, 0x22, 2, 0x33}},
    {"table 5", {0x11, 0x22, 0x33, 0x44}, {5, 0x11, 0x22, 0x33, 0x44}},
    {"table 6", {0x11, 0, 0, 0}, {2, 0x11, 1, 1, 1}},
    {"table 7, without the final 01", counting(1, 254), join({{0xFF}, counting(1, 254)})},
    {"table 8, without the final 01", counting(0, 254), join({{1, 0xFF}, counting(1, 254)})},
    {"table 9", counting(1, 255), join({{0xFF}, counting(1, 254), {2, 0xFF}})},
    {"table 10", join({counting(2, 255), {0}}), join({{0xFF}, counting(2, 255), {1, 1}})},
    {"table 11", join({counting(3, 255), {0, 1}}), join({{0xFE}, counting(3, 255), {2, 1}})},
    {"paper: nothing", {}, {1}},
};

TEST(Cobs, EncodesThePublishedVectors) {
  for (const auto& vector : kVectors) EXPECT_EQ(encode_cobs(vector.raw), vector.encoded) << vector.name;
}

TEST(Cobs, DecodesThePublishedVectors) {
  for (const auto& vector : kVectors) EXPECT_EQ(decode_cobs(vector.encoded), vector.raw) << vector.name;
}

TEST(Cobs, ReadsTheFinal01OfThePapersListingAfterAFullBlock) {
  EXPECT_EQ(decode_cobs(join({{0xFF}, counting(1, 254), {1}})), counting(1, 254));
  EXPECT_EQ(decode_cobs(join({{1, 0xFF}, counting(1, 254), {1}})), counting(0, 254));
}

TEST(Cobs, RefusesACodeByteThatPointsPastTheEnd) { EXPECT_EQ(decode_cobs({5, 1, 2}), std::nullopt); }
TEST(Cobs, RefusesAZeroInsideAPacket) { EXPECT_EQ(decode_cobs({3, 1, 0, 2}), std::nullopt); }
TEST(Cobs, RefusesAnEmptyPacket) { EXPECT_EQ(decode_cobs({}), std::nullopt); }

TEST(Cobs, IsReadyForTheNextPacketAfterAMalformedOne) {
  CobsDecoder decoder;
  std::uint8_t byte = 0;
  decoder.push(9, byte);
  EXPECT_EQ(decoder.push(0, byte), CobsStep::malformed);
  EXPECT_EQ(decoder.push(2, byte), CobsStep::nothing);
  EXPECT_EQ(decoder.push(7, byte), CobsStep::byte);
  EXPECT_EQ(byte, 7);
  EXPECT_EQ(decoder.push(0, byte), CobsStep::end);
}

TEST(Cobs, SaysWhenTheOutputIsFull) {
  FixedOutput<3> out;
  CobsEncoder<decltype(out)> encoder(out);
  encoder.begin();
  for (int i = 0; i < 5; ++i) encoder.put(9);
  EXPECT_FALSE(encoder.end());
}

TEST(Cobs, AnyPacketComesBackAndGrowsByOneByteIn254AtMost) {
  const bool held = rc::check("round trip and overhead bound of the paper", [] {
    const auto length = *rc::gen::inRange(0, 1200);
    const auto zeros = *rc::gen::inRange(0, 4);
    const auto raw =
        *rc::gen::container<Bytes>(length, rc::gen::map(rc::gen::inRange(0, 256), [=](int value) {
                                     return static_cast<std::uint8_t>(zeros == 0 && value == 0 ? 1 : zeros == 3 && value < 128 ? 0 : value);
                                   }));
    const Bytes encoded = encode_cobs(raw);
    RC_ASSERT(std::find(encoded.begin(), encoded.end(), 0) == encoded.end());
    RC_ASSERT(encoded.size() <= raw.size() + 1 + raw.size() / 254);
    RC_ASSERT(decode_cobs(encoded) == std::optional<Bytes>(raw));
  });
  EXPECT_TRUE(held);
}

}  // namespace
}  // namespace midstick::protocol
