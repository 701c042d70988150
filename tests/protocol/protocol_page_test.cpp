// PROTOCOL.md says what the schema says: every table row, both ways, and the worked frame.
#include <gtest/gtest.h>

#include <algorithm>
#include <fstream>
#include <sstream>
#include <string>
#include <vector>

#include "protocol/edge_list.hpp"
#include "protocol/schema.hpp"

namespace midstick::protocol {
namespace {

std::vector<std::string> page_lines() {
  std::ifstream file(PROTOCOL_PAGE);
  std::vector<std::string> lines;
  for (std::string line; std::getline(file, line);) lines.push_back(line);
  return lines;
}

/// Rows of the table whose head begins with "| `first` |", without head and rule.
std::vector<std::string> table(const std::string& first) {
  const auto lines = page_lines();
  auto line = std::find_if(lines.begin(), lines.end(), [&](const auto& l) { return l.rfind("| " + first + " |", 0) == 0; });
  std::vector<std::string> rows;
  for (std::ptrdiff_t skip = 2; lines.end() - line > skip && line[skip].rfind("|", 0) == 0; ++skip) rows.push_back(line[skip]);
  return rows;
}

std::string layout(std::string type, const std::string& name, const std::string& unit, std::uint32_t low, std::uint32_t high) {
  const std::uint32_t most = type == "u8" || type == "credits" ? 0xFF : type == "u16" ? 0xFFFF : 0xFFFFFFFF;
  std::string text = name + " " + type;
  if (type == "tail" || low != 0 || high != most) text += " " + std::to_string(low) + ".." + std::to_string(high);
  return unit.empty() ? text : text + " " + unit;
}

#define ROW(number, name, meaning) "| " #number " | " #name " | " meaning " |",
#define FIELD_ROW(type, name, unit, low, high, meaning) "| " + layout(#type, #name, unit, low, high) + " | " meaning " |",
#define FIELD_ITEM(type, name, unit, low, high, meaning) text += (text.empty() ? "" : ", ") + layout(#type, #name, unit, low, high);
#define MESSAGE_ROW(number, Struct, name, FIELDS, direction, frozen, meaning)                                             \
  {                                                                                                                       \
    std::string text;                                                                                                     \
    FIELDS(FIELD_ITEM)                                                                                                    \
    if (number == Hello::kType) text = "see below";                                                                       \
    rows.push_back("| " #number " | " #name " | " direction " | " + text + (text.empty() ? "| " : " | ") + meaning " |"); \
  }

TEST(ProtocolPage, ListsEveryMessageWithItsLayout) {
  std::vector<std::string> rows;
  MIDSTICK_MESSAGES(MESSAGE_ROW)
  EXPECT_EQ(table("no"), rows);
}

TEST(ProtocolPage, ListsTheLimitsInHello) { EXPECT_EQ(table("hello"), (std::vector<std::string>{MIDSTICK_HELLO_FIELDS(FIELD_ROW)})); }

TEST(ProtocolPage, ListsEveryNumber) {
  EXPECT_EQ(table("fault"), (std::vector<std::string>{MIDSTICK_FAULTS(ROW)}));
  EXPECT_EQ(table("refusal"), (std::vector<std::string>{MIDSTICK_REFUSALS(ROW)}));
  EXPECT_EQ(table("event"), (std::vector<std::string>{MIDSTICK_EVENTS(ROW)}));
  EXPECT_EQ(table("state"), (std::vector<std::string>{MIDSTICK_STATES(ROW)}));
}

TEST(ProtocolPage, NamesTheFrozenMessages) {
  std::string frozen;
#define FROZEN(number, Struct, name, FIELDS, direction, mark, meaning) \
  if (std::string(mark) == "frozen") frozen += std::string(frozen.empty() ? "" : ", ") + #name;
  MIDSTICK_MESSAGES(FROZEN)
#undef FROZEN
  const auto last = frozen.rfind(", ");
  const std::string sentence = "The layouts of " + frozen.substr(0, last) + " and " + frozen.substr(last + 2) + " are frozen";
  const auto lines = page_lines();
  EXPECT_TRUE(std::any_of(lines.begin(), lines.end(), [&](const auto& l) { return l.find(sentence) != std::string::npos; })) << sentence;
}

TEST(ProtocolPage, WorkedFrameDecodesToWhatThePageSays) {
  const auto lines = page_lines();
  auto line = std::find(lines.begin(), lines.end(), "## One frame, worked");
  ASSERT_NE(line, lines.end());
  line = std::find_if(line, lines.end(), [](const auto& l) { return l.rfind("    ", 0) == 0; });
  ASSERT_NE(line, lines.end());
  std::istringstream hex(*line);
  FrameDecoder decoder;
  FrameStep step = FrameStep::nothing;
  for (unsigned byte = 0; hex >> std::hex >> byte;) {
    ASSERT_EQ(step, FrameStep::nothing) << "nothing may follow the delimiter";
    step = decoder.push(static_cast<std::uint8_t>(byte));
  }
  ASSERT_EQ(step, FrameStep::frame);
  EXPECT_EQ(decoder.type(), Stimulus::kType);
  EXPECT_EQ(decoder.seq(), 5);
  Stimulus stimulus{};
  ASSERT_TRUE(decode(decoder.payload(), decoder.payload_size(), stimulus));
  EXPECT_EQ(stimulus.base, WireTick{1'600'000});
  EdgeReader reader(stimulus.base, stimulus.edges);
  EdgeRecord edge{};
  ASSERT_EQ(reader.next(edge), EdgeStep::edge);
  EXPECT_TRUE(edge.level && edge.line == 0 && edge.at == WireTick{1'600'000});
  ASSERT_EQ(reader.next(edge), EdgeStep::edge);
  EXPECT_TRUE(!edge.level && edge.line == 0 && edge.at == WireTick{1'600'000 + 1500 * 16});
  EXPECT_EQ(reader.next(edge), EdgeStep::end);
}

}  // namespace
}  // namespace midstick::protocol
