// The generated codec, over every message of the schema.
#include "protocol/messages.hpp"

#include <gtest/gtest.h>

#include <random>
#include <string>
#include <vector>

namespace midstick::protocol {
namespace {

using Bytes = std::vector<std::uint8_t>;
struct ByteSink {
  Bytes bytes;
  void put(std::uint8_t byte) { bytes.push_back(byte); }
};

struct FieldInfo {
  std::string type, name;
  std::uint32_t low, high;
};
struct MessageInfo {
  int number;
  std::string name;
  std::vector<FieldInfo> fields;
  bool (*decodes)(const Bytes&);
  Bytes (*again)(const Bytes&);  // decode, then encode
};

template <class Message>
bool decodes(const Bytes& payload) {
  Message message{};
  return decode(payload.data(), static_cast<std::uint8_t>(payload.size()), message);
}
template <class Message>
Bytes again(const Bytes& payload) {
  Message message{};
  EXPECT_TRUE(decode(payload.data(), static_cast<std::uint8_t>(payload.size()), message));
  ByteSink sink;
  EXPECT_TRUE(encode(sink, message));
  return sink.bytes;
}

#define FIELD(type, name, unit, low, high, meaning) FieldInfo{#type, #name, low, high},
#define MESSAGE(number, Struct, name, FIELDS, direction, frozen, meaning) \
  MessageInfo{number, #name, {FIELDS(FIELD)}, decodes<Struct>, again<Struct>},
const MessageInfo kMessages[] = {MIDSTICK_MESSAGES(MESSAGE)};
#undef MESSAGE
#undef FIELD

int width(const std::string& type) { return type == "u8" ? 1 : type == "u16" ? 2 : type == "credits" ? 6 : type == "tail" ? 0 : 4; }

void put_number(Bytes& bytes, std::uint64_t value, int size) {
  for (int i = 0; i < size; ++i) bytes.push_back(static_cast<std::uint8_t>(value >> (8 * i)));
}

/// A payload with every field at `pick(field)`; tails of three bytes.
template <class Pick>
Bytes payload_of(const MessageInfo& message, Pick pick) {
  Bytes bytes;
  for (const auto& field : message.fields) {
    if (field.type == "tail")
      bytes.insert(bytes.end(), {1, 2, 3});
    else if (field.type == "credits")
      for (int i = 0; i < 6; ++i) put_number(bytes, pick(field), 1);
    else
      put_number(bytes, pick(field), width(field.type));
  }
  return bytes;
}

TEST(Messages, BothEndsOfEveryRangeComeBack) {
  for (const auto& message : kMessages) {
    const Bytes low = payload_of(message, [](const FieldInfo& f) { return f.low; });
    const Bytes high = payload_of(message, [](const FieldInfo& f) { return f.high; });
    EXPECT_EQ(message.again(low), low) << message.name;
    EXPECT_EQ(message.again(high), high) << message.name;
  }
}

TEST(Messages, ValueJustOutsideItsRangeIsRefused) {
  int checked = 0;
  for (const auto& message : kMessages)
    for (const auto& wrong : message.fields) {
      const std::uint64_t most = width(wrong.type) == 4 ? 0xFFFFFFFFu : width(wrong.type) == 2 ? 0xFFFFu : 0xFFu;
      const auto with = [&](std::uint64_t value) {
        return payload_of(message, [&](const FieldInfo& f) { return f.name == wrong.name ? value : std::uint64_t{f.low}; });
      };
      if (wrong.type == "tail") continue;
      if (wrong.low > 0) {
        EXPECT_FALSE(message.decodes(with(wrong.low - 1))) << message.name << "." << wrong.name;
      }
      if (wrong.high < most) {
        EXPECT_FALSE(message.decodes(with(std::uint64_t{wrong.high} + 1))) << message.name << "." << wrong.name;
      }
      checked += (wrong.low > 0) + (wrong.high < most);
    }
  EXPECT_GT(checked, 20);
}

TEST(Messages, EveryShorterPayloadIsRefused) {
  for (const auto& message : kMessages) {
    const Bytes whole = payload_of(message, [](const FieldInfo& f) { return f.low; });
    const bool tailed = !message.fields.empty() && message.fields.back().type == "tail";
    for (std::size_t size = 0; size + (tailed ? 3 : 0) < whole.size(); ++size)
      EXPECT_FALSE(message.decodes(Bytes(whole.begin(), whole.begin() + static_cast<std::ptrdiff_t>(size)))) << message.name << " " << size;
  }
}

TEST(Messages, ReaderStopsBeforeItsEndWhateverTheWidth) {
  const std::uint8_t bytes[4] = {};
  std::uint8_t one = 0;
  std::uint16_t two = 0;
  std::uint32_t four = 0;
  for (std::uint8_t size = 0; size <= 4; ++size) {
    EXPECT_EQ(PayloadReader(bytes, size).read(one, 0, 255), size >= 1) << int{size};
    EXPECT_EQ(PayloadReader(bytes, size).read(two, 0, 65535), size >= 2) << int{size};
    EXPECT_EQ(PayloadReader(bytes, size).read(four, 0, 0xFFFFFFFF), size >= 4) << int{size};
  }
}

TEST(Messages, AByteTooManyIsRefused) {
  for (const auto& message : kMessages) {
    if (!message.fields.empty() && message.fields.back().type == "tail") continue;
    Bytes bytes = payload_of(message, [](const FieldInfo& f) { return f.low; });
    bytes.push_back(0);
    EXPECT_FALSE(message.decodes(bytes)) << message.name;
  }
}

TEST(Messages, FieldOutOfRangeIsNotEncoded) {
  ByteSink sink;
  EXPECT_FALSE(encode(sink, Start{19, 1}));
  EXPECT_TRUE(encode(sink, Start{20, 1}));
  EXPECT_FALSE(encode(sink, ControllerReset{{0}, 1, 10'001}));
}

TEST(Messages, LongestTailStillFitsAFrame) {
  for (const auto& message : kMessages) {
    int fixed = 0;
    for (const auto& field : message.fields) fixed += width(field.type);
    ASSERT_LE(fixed, kMaxPayload) << message.name;
    const bool tailed = !message.fields.empty() && message.fields.back().type == "tail";
    EXPECT_LE(fixed + (tailed ? static_cast<int>(message.fields.back().high) : 0), kMaxPayload) << message.name;
  }
}

class RandomPayloads : public testing::TestWithParam<unsigned> {};

TEST_P(RandomPayloads, WhateverDecodesEncodesToTheSameBytes) {
  std::mt19937 random(GetParam());
  for (int i = 0; i < 20'000; ++i) {
    Bytes bytes(random() % 64);
    for (auto& byte : bytes) byte = static_cast<std::uint8_t>(random() % 3 == 0 ? 1 : random());
    for (const auto& message : kMessages)
      if (message.decodes(bytes)) {
        EXPECT_EQ(message.again(bytes), bytes) << message.name;
      }
  }
}
INSTANTIATE_TEST_SUITE_P(Seeds, RandomPayloads, testing::Range(1u, 4u));

}  // namespace
}  // namespace midstick::protocol
