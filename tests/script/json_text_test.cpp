// Text to values: comments, lines, and everything that is refused before a schema is asked.
#include <gtest/gtest.h>

#include <limits>

#include "daemon/script/json_text.hpp"

namespace midstick::script {
namespace {

std::string refusal(const std::string& text) {
  const auto source = parse_json(text, "f");
  EXPECT_FALSE(source) << "accepted: " << text.substr(0, 60);
  return source ? "" : source.error().message;
}

TEST(JsonText, CommentsAreSkipped) {
  const auto source = parse_json("// one\n{ /* two\n */ \"a\": [1, // three\n 2] }\n// four", "f");
  ASSERT_TRUE(source) << source.error().message;
  EXPECT_EQ(source->value, nlohmann::json::parse(R"({"a": [1, 2]})"));
}

TEST(JsonText, CommentMarksInsideStringsAreText) {
  const auto source = parse_json(R"({"a": "// no /* comment"})", "f");
  ASSERT_TRUE(source) << source.error().message;
  EXPECT_EQ(source->value["a"], "// no /* comment");
}

TEST(JsonText, KnowsTheLineOfEveryValue) {
  const auto source = parse_json("{\n  \"a\": {\n    \"b\": [\n      1,\n      {\"c/d~e\":\n 2}\n    ]\n  }\n}", "f");
  ASSERT_TRUE(source) << source.error().message;
  EXPECT_EQ(source->lines.line_of(""), 1);
  EXPECT_EQ(source->lines.line_of("/a"), 2);
  EXPECT_EQ(source->lines.line_of("/a/b"), 3);
  EXPECT_EQ(source->lines.line_of("/a/b/0"), 4);
  EXPECT_EQ(source->lines.line_of("/a/b/1/c~1d~0e"), 5) << "a member stands where its key stands";
}

TEST(JsonText, SameKeyAtTwoDepthsHasTwoLines) {
  const auto source = parse_json("{\n\"a\": {\n\"b\": 1\n},\n\"b\": 2\n}", "f");
  ASSERT_TRUE(source);
  EXPECT_EQ(source->lines.line_of("/a/b"), 3);
  EXPECT_EQ(source->lines.line_of("/b"), 5);
}

TEST(JsonText, PlaceThatDoesNotExistHasTheLineOfItsNearestAncestor) {
  const auto source = parse_json("{\n\"a\": {\n\"b\": 1\n}\n}", "f");
  ASSERT_TRUE(source);
  EXPECT_EQ(source->lines.line_of("/a/missing/deeper"), 2);
}

TEST(JsonText, WholeNumbersAreIntegersHoweverWritten) {
  const auto source = parse_json("[3.0, 1e3, 2.5, -0.0]", "f");
  ASSERT_TRUE(source);
  EXPECT_TRUE(source->value[0].is_number_integer());
  EXPECT_EQ(source->value[1], 1000);
  EXPECT_TRUE(source->value[2].is_number_float());
  EXPECT_TRUE(source->value[3].is_number_integer());
}

TEST(JsonText, ByteOrderMarkIsSkipped) { EXPECT_TRUE(parse_json("\xEF\xBB\xBF{}", "f")); }

TEST(JsonText, KeyTwiceIsRefusedWithItsLine) {
  EXPECT_EQ(refusal("{\n\"a\": 1,\n\"a\": 2}"), "f:3: found the key \"a\" twice in one object");
}

TEST(JsonText, KeyTwiceIsSeenThroughEscapes) { EXPECT_NE(refusal(R"({"a": 1, "\u0061": 2})").find("twice"), std::string::npos); }

TEST(JsonText, SameKeyInTwoObjectsIsFine) { EXPECT_TRUE(parse_json(R"([{"a": 1}, {"a": {"a": 2}}])", "f")); }

TEST(JsonText, NestingOverSixtyFourDeepIsRefused) {
  EXPECT_TRUE(parse_json(std::string(64, '[') + std::string(64, ']'), "f"));
  EXPECT_NE(refusal(std::string(65, '[') + std::string(65, ']')).find("nesting over 64 deep"), std::string::npos);
  EXPECT_NE(refusal(std::string(1 << 20, '[')).find("nesting over 64 deep"), std::string::npos);
}

TEST(JsonText, OverOneMebibyteIsRefused) {
  const std::string blank(kMaxFileBytes - 2, ' ');
  EXPECT_TRUE(parse_json("{" + blank + "}", "f"));
  EXPECT_NE(refusal("{" + blank + " }").find("expected at most 1 MiB"), std::string::npos);
}

TEST(JsonText, BytesThatAreNotUtf8AreRefusedWithTheirLine) {
  EXPECT_EQ(refusal("{\n\"a\": \"\xFF\"}"), "f:2: found bytes that are not UTF-8 text");
  EXPECT_EQ(refusal("{}\n\n// \xC3("), "f:3: found bytes that are not UTF-8 text") << "in a comment too";
  EXPECT_EQ(refusal("\xE2\x82"), "f:1: found bytes that are not UTF-8 text") << "cut inside a character";
  EXPECT_EQ(refusal("\"\xED\xA0\x80\""), "f:1: found bytes that are not UTF-8 text") << "a surrogate";
  EXPECT_EQ(refusal("\"\xC0\x80\""), "f:1: found bytes that are not UTF-8 text") << "an overlong form";
}

TEST(JsonText, NulByteIsRefused) { EXPECT_EQ(refusal(std::string("{}\0garbage", 10)), "f:1: found bytes that are not UTF-8 text"); }

TEST(JsonText, LoneSurrogateEscapeIsRefused) { refusal(R"("\ud800")"); }

TEST(JsonText, ZeroWithAnyExponentIsZero) {
  for (const char* text : {"0e138", "0E-400", "0.0e308", "-0e9"}) {
    const auto source = parse_json(text, "f");
    ASSERT_TRUE(source) << source.error().message;
    EXPECT_EQ(source->value, 0) << text;
  }
}

TEST(JsonText, NumbersAreReadExactly) {
  const auto source = parse_json("[0.1, 18446744073709551615, -9223372036854775808, 1e-5, 123456789012345678901]", "f");
  ASSERT_TRUE(source);
  EXPECT_EQ(source->value[0].get<double>(), 0.1);
  EXPECT_EQ(source->value[1].get<std::uint64_t>(), 18446744073709551615ULL);
  EXPECT_EQ(source->value[2].get<std::int64_t>(), std::numeric_limits<std::int64_t>::min());
  EXPECT_EQ(source->value[3].get<double>(), 1e-5);
  EXPECT_EQ(source->value[4].get<double>(), 123456789012345678901.0);
}

TEST(JsonText, NumbersBeyondADoubleAreRefused) {
  EXPECT_EQ(refusal("[\n1e999]"), "f:2: not JSON: Number too big to be stored in double.");
  EXPECT_EQ(refusal("[\n1e-400]"), "f:2: found a number beyond the range of a double");
  refusal("[NaN]");
  refusal("[Infinity]");
  refusal("-");
  refusal("01");
}

TEST(JsonText, EmptyTextIsRefused) {
  refusal("");
  refusal("  // only a comment\n");
}

TEST(JsonText, AnythingAfterTheValueIsRefused) { EXPECT_EQ(refusal("{}\n{}").substr(0, 14), "f:2: not JSON:"); }

}  // namespace
}  // namespace midstick::script
