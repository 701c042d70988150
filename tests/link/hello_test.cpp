#include <gtest/gtest.h>

#include "tests/link/world.hpp"

namespace midstick::link::test {
namespace {

TEST(Hello, LinkIsReadyOnceTheBoardAnswers) {
  World world;
  ASSERT_TRUE(world.greet());
  ASSERT_EQ(world.of<Greeted>().size(), 1u);
  EXPECT_EQ(world.link.hello().boot_id, 7u);
  EXPECT_LT(world.now, 50 * kMs);
}

TEST(Hello, IsRepeatedWhileTheBoardsBootLoaderWaits) {
  World world({}, {.boot_takes_ns = 2000 * kMs});
  ASSERT_TRUE(world.greet());
  EXPECT_GE(world.now, 2000 * kMs);
  world.run(1000 * kMs);
  EXPECT_FALSE(world.link.failed()) << "the boot hello and late answers are no restart";
}

TEST(Hello, NoBoardIsAnErrorAfterTheStatedPatience) {
  World world;
  world.unplugged = true;
  EXPECT_FALSE(world.greet());
  ASSERT_TRUE(world.link.failed());
  EXPECT_EQ(world.link.error()->kind, ErrorKind::bench_missing);
  EXPECT_NEAR(static_cast<double>(world.now), 4000.0 * kMs, 300.0 * kMs);
}

std::string changed(const std::string& from, const std::string& to) {
  std::string schema = MIDSTICK_SCHEMA_TEXT;
  const auto at = schema.find(from);
  EXPECT_NE(at, std::string::npos);
  return schema.replace(at, from.size(), to);
}

TEST(Hello, SchemaMismatchIsRefusedNamingTheLinesThatDiffer) {
  World world({}, {.schema = changed("hold u16 1..10000 [ms]", "hold u16 1..5000 [ms]")});
  EXPECT_FALSE(world.greet());
  ASSERT_TRUE(world.link.failed());
  EXPECT_EQ(world.link.error()->kind, ErrorKind::bench_missing);
  const std::string& message = world.link.error()->message;
  EXPECT_NE(message.find("board: message 7 controller_reset: hold u16 1..5000 [ms]"), std::string::npos) << message;
  EXPECT_NE(message.find("host:  message 7 controller_reset: hold u16 1..10000 [ms]"), std::string::npos) << message;
  EXPECT_EQ(message.find("clock_query"), std::string::npos) << "lines that agree are not shown: " << message;
}

TEST(Hello, SchemaIsStillReadOverABadWire) {
  World world({.seed = 3, .drop = 0.001}, {.schema = changed("fault 2 stop_loop_open", "fault 2 loop")});
  EXPECT_FALSE(world.greet());
  EXPECT_NE(world.link.error()->message.find("board: fault 2 loop"), std::string::npos) << world.link.error()->message;
}

TEST(Hello, OtherProtocolVersionIsRefused) {
  World world({}, {.schema = changed("protocol 1\n", "protocol 2\n"), .protocol = 2});
  EXPECT_FALSE(world.greet());
  EXPECT_NE(world.link.error()->message.find("protocol 2"), std::string::npos) << world.link.error()->message;
}

TEST(Hello, UnreadableSchemaIsSaidSo) {
  World world({}, {.schema = ""});
  EXPECT_FALSE(world.greet());
  EXPECT_NE(world.link.error()->message.find("lines that differ"), std::string::npos) << world.link.error()->message;
}

TEST(SchemaDifference, TextFromOutsideIsMadePrintable) {
  const std::string text = schema_difference("a\x1b[31m\n", "a\n", 10);
  EXPECT_EQ(text, "  board: a?[31m\n  host:  a\n");
}

TEST(SchemaDifference, IsCutAtItsLimit) { EXPECT_EQ(schema_difference("1\n2\n3\n", "", 2), "  board: 1\n  board: 2\n  and 1 more\n"); }

TEST(Hello, OpeningAgainAfterAFailureWorks) {
  World world;
  world.unplugged = true;
  EXPECT_FALSE(world.greet());
  world.unplugged = false;
  world.link.open({world.now});
  EXPECT_TRUE(world.greet());
}

}  // namespace
}  // namespace midstick::link::test
