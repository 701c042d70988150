#include <gtest/gtest.h>

#include <set>
#include <string>

#include "protocol/messages.hpp"
#include "protocol/schema_text.hpp"

namespace midstick::protocol {
namespace {

TEST(SchemaText, HashIsFnv1aWithItsPublishedVectors) {
  // Fowler, Noll, Vo: 32-bit FNV-1a of "", "a" and "foobar", from the authors' test vectors (from memory).
  EXPECT_EQ(fnv1a("", 0), 0x811C9DC5u);
  EXPECT_EQ(fnv1a("a", 1), 0xE40C292Cu);
  EXPECT_EQ(fnv1a("foobar", 6), 0xBF9CF968u);
}

TEST(SchemaText, HashCoversTheWholeText) {
  const std::string text = MIDSTICK_SCHEMA_TEXT;
  EXPECT_EQ(text.size(), kSchemaTextSize);
  EXPECT_EQ(fnv1a(text.data(), text.size()), kSchemaHash);
  std::string changed = text;
  changed[changed.size() - 2] ^= 1;
  EXPECT_NE(fnv1a(changed.data(), changed.size()), kSchemaHash);
}

TEST(SchemaText, NamesEveryMessageFieldAndNumberOnALineOfItsOwn) {
  const std::string text = MIDSTICK_SCHEMA_TEXT;
  EXPECT_NE(text.find("\nmessage 65 hello from board frozen: "), std::string::npos);
  EXPECT_NE(text.find("\n  tick_rate u32 1000000..100000000 [Hz] "), std::string::npos);
  EXPECT_NE(text.find("\nfault 1 host_silent: "), std::string::npos);
  EXPECT_EQ(text.back(), '\n');
}

TEST(SchemaText, CanBeReadWithSixteenBitOffsets) { EXPECT_LT(kSchemaTextSize, 65536u); }

TEST(Schema, NumbersAreUniqueInTheirTable) {
#define NUMBER(number, ...) number,
  const auto unique = [](std::initializer_list<int> numbers) { return std::set<int>(numbers).size() == numbers.size(); };
  EXPECT_TRUE(unique({MIDSTICK_MESSAGES(NUMBER)}));
  EXPECT_TRUE(unique({MIDSTICK_FAULTS(NUMBER)}));
  EXPECT_TRUE(unique({MIDSTICK_REFUSALS(NUMBER)}));
  EXPECT_TRUE(unique({MIDSTICK_EVENTS(NUMBER)}));
  EXPECT_TRUE(unique({MIDSTICK_STATES(NUMBER)}));
#undef NUMBER
}

// Frozen layouts: a board or host of another version must still be able to say how it differs. These bytes may never change.
TEST(Schema, FrozenLayoutsAreAsTheyWereInVersionOne) {
#define WIDTH_u8 1
#define WIDTH_u16 2
#define WIDTH_u32 4
#define WIDTH_tick 4
#define WIDTH_credits 6
#define WIDTH_tail 0
#define PLACE(type, name, unit, low, high, meaning) layout += #name ":" + std::to_string(WIDTH_##type) + " ";
  std::string layout;
  MIDSTICK_HELLO_REQUEST_FIELDS(PLACE)
  EXPECT_EQ(layout, "");
  MIDSTICK_SCHEMA_READ_FIELDS(PLACE)
  EXPECT_EQ(layout, "offset:2 ");
  layout.clear();
  MIDSTICK_SCHEMA_TEXT_FIELDS(PLACE)
  EXPECT_EQ(layout, "offset:2 total:2 text:0 ");
  layout.clear();
  MIDSTICK_ACK_FIELDS(PLACE)
  EXPECT_EQ(layout, "accepted:1 refused:1 refused_seq:1 credits:6 ");
  layout.clear();
  MIDSTICK_HELLO_FIELDS(PLACE)
  EXPECT_EQ(layout,
            "protocol:1 schema_hash:4 firmware_major:1 firmware_minor:1 boot_id:4 tick_rate:4 stimulus_lines:1 "
            "capture_lines:1 pin_change_lines:1 queue_depth:1 shortest_level:2 lead:4 longest_ahead:4 shortest_frame:4 "
            "longest_frame:4 refresh_max:2 pin_change_half:1 pin_change_crowded:2 pin_change_base:1 reset_cause:1 ");
#undef PLACE
  EXPECT_EQ(Hello::kType, 65);
  EXPECT_EQ(HelloRequest::kType, 1);
  EXPECT_EQ(SchemaRead::kType, 2);
  EXPECT_EQ(SchemaText::kType, 66);
  EXPECT_EQ(Ack::kType, 68);
}

}  // namespace
}  // namespace midstick::protocol
