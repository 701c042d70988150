// Against IEEE Std 1364-2005 clause 18 (grammar from memory): a reader written here from the grammar, sharing nothing with the writer.
#include <gtest/gtest.h>

#include <map>
#include <sstream>
#include <vector>

#include "daemon/report/vcd.hpp"
#include "tests/report/world.hpp"

namespace midstick::report {
namespace {

using test::add_pulses;
using test::mower_world;

struct Change {
  long long time;
  char value;
  friend bool operator==(const Change&, const Change&) = default;
};

struct VcdFile {
  std::string timescale, comments;
  std::map<std::string, std::string> names;            ///< by id code
  std::map<std::string, std::vector<Change>> changes;  ///< by name; $dumpvars at its time first
  long long end{0};
};

/// Strict: any departure from the grammar is a test failure with the offending word.
VcdFile read_vcd(const std::string& text) {
  VcdFile file;
  std::istringstream in(text);
  std::string word;
  const auto until_end = [&] {
    std::string body;
    for (std::string w; in >> w && w != "$end";) body += (body.empty() ? "" : " ") + w;
    return body;
  };
  int depth = 0;
  while (in >> word && word != "$enddefinitions") {
    if (word == "$timescale")
      file.timescale = until_end();
    else if (word == "$comment")
      file.comments += until_end() + "\n";
    else if (word == "$date" || word == "$version")
      until_end();
    else if (word == "$scope") {
      EXPECT_EQ(until_end().substr(0, 7), "module ");
      ++depth;
    } else if (word == "$upscope") {
      EXPECT_EQ(until_end(), "");
      --depth;
    } else if (word == "$var") {
      std::istringstream body(until_end());
      std::string type, size, id, name, rest;
      body >> type >> size >> id >> name;
      EXPECT_FALSE(body >> rest) << "more in $var: " << rest;
      EXPECT_EQ(type, "wire");
      EXPECT_EQ(size, "1");
      EXPECT_EQ(depth, 1);
      for (const char c : id) EXPECT_TRUE(c >= '!' && c <= '~') << id;
      EXPECT_TRUE(file.names.emplace(id, name).second) << "id twice: " << id;
    } else
      ADD_FAILURE() << "unknown keyword " << word;
  }
  EXPECT_EQ(depth, 0);
  EXPECT_EQ(until_end(), "");
  long long now = -1;
  bool dumping = false;
  while (in >> word) {
    if (word[0] == '#') {
      const auto time = std::stoll(word.substr(1));
      EXPECT_GT(time, now) << "time must advance";
      now = time;
    } else if (word == "$dumpvars") {
      dumping = true;
      EXPECT_EQ(now, 0);
    } else if (word == "$end") {
      EXPECT_TRUE(dumping);
      dumping = false;
    } else {
      EXPECT_TRUE(word[0] == '0' || word[0] == '1' || (dumping && word[0] == 'x')) << word;
      const auto name = file.names.find(word.substr(1));
      if (name == file.names.end()) {
        ADD_FAILURE() << "undeclared " << word;
        continue;
      }
      file.changes[name->second].push_back({now, word[0]});
    }
  }
  file.end = now;
  return file;
}

VcdFile written(const test::World& w) { return read_vcd(capture_vcd(w.capture, w.plan.controller, w.plan.name, w.facts.started)); }

test::World bare_world() {
  auto world = test::empty_world();
  world.plan.controller.inputs = {{"throttle", "S1", 0, 0, 0}};
  world.plan.controller.outputs = {{"left", "R1", 0, 0, 0}};
  world.capture.end = {1'000'000};
  return world;
}

TEST(Vcd, FollowsTheGrammarWithALegalTimescale) {
  const auto file = written(mower_world());
  EXPECT_EQ(file.timescale, "100 ns");
  std::vector<std::string> names;
  for (const auto& [id, name] : file.names) names.push_back(name);
  EXPECT_EQ(names, (std::vector<std::string>{"throttle", "steering", "left", "right", "controller_power"}));
}

TEST(Vcd, WholeFileOfOnePulseReadsLikeThis) {
  auto world = bare_world();
  world.capture.identity = {"midstick board 1.0, boot 7", 7, "1.0", "5e1f00aa", "track drive", "", "virtual:x"};
  world.capture.complete = true;
  world.capture.clock = {7, {0}, {0}, 62.5, 0.42, 240};
  add_pulses(world.capture.response, 0, 16'000, 0, 24'000, 1);
  EXPECT_EQ(
      capture_vcd(world.capture, world.plan.controller, "nightly", "2026-03-01T21:00:00Z"),
      "$date 2026-03-01T21:00:00Z $end\n"
      "$version midstick $end\n"
      "$comment plan: nightly; bench: midstick board 1.0, boot 7, firmware 1.0, wire 5e1f00aa; controller: track drive, image unknown "
      "$end\n"
      "$comment time 0 is board tick 0; one step is 100 ns of true time, rounded to the nearest: board clock +0.000 ppm +- 0.420 $end\n"
      "$comment a pulse shorter than one step is drawn one step wide so that it stays visible: 0 edges moved $end\n"
      "$timescale 100 ns $end\n"
      "$scope module stimulus $end\n$var wire 1 ! throttle $end\n$upscope $end\n"
      "$scope module response $end\n$var wire 1 ' left $end\n$upscope $end\n"
      "$enddefinitions $end\n"
      "#0\n$dumpvars\n0!\n0'\n$end\n"
      "#10000\n1'\n#25000\n0'\n#625000\n");
}

TEST(Vcd, StepsAreTrueTimeRoundedToTheNearest) {
  auto world = bare_world();
  world.capture.begin = {160};
  world.capture.clock.ns_per_tick = 62.5;
  add_pulses(world.capture.stimulus, 0, 160 + 16, 0, 24'001, 1);  // 1 us; 1500.0625 us later
  EXPECT_EQ(written(world).changes["throttle"], (std::vector<Change>{{0, '0'}, {10, '1'}, {15011, '0'}}));
  world.capture.clock.ns_per_tick = 62.5 * 1.005;  // board slow by 0.5 %: the same ticks are a longer true time
  EXPECT_EQ(written(world).changes["throttle"], (std::vector<Change>{{0, '0'}, {10, '1'}, {15086, '0'}}));
}

TEST(Vcd, RuntShorterThanAStepStaysVisibleAndTheFileSaysSo) {
  auto world = bare_world();
  add_pulses(world.capture.response, 0, 16'000, 0, 1, 1);  // 62.5 ns
  add_pulses(world.capture.response, 0, 16'002, 0, 1, 1);
  const auto file = written(world);
  EXPECT_EQ(file.changes.at("left"), (std::vector<Change>{{0, '0'}, {10000, '1'}, {10001, '0'}, {10002, '1'}, {10003, '0'}}));
  EXPECT_NE(file.comments.find("visible: 2 edges moved"), std::string::npos) << file.comments;
}

TEST(Vcd, TimeNeverGoesBackWhenMovedEdgesMeetOtherLines) {
  auto world = bare_world();
  add_pulses(world.capture.response, 0, 16'000, 2, 1, 50);  // pushed ever further behind its true time
  add_pulses(world.capture.stimulus, 0, 16'001, 3, 1, 30);
  add_pulses(world.capture.response, 2, 16'010, 30, 15, 4);  // on another line of the same list, inside the pushed stretch
  world.capture.events = {{{16'020}, capture::EventKind::power_on, 0, {16'020}, ""}};
  test::sort_edges(world.capture.response);
  const auto file = written(world);
  EXPECT_EQ(file.changes.at("P1").size(), 9U);
  EXPECT_EQ(file.changes.at("left").size(), 101U);
  EXPECT_EQ(file.changes.at("throttle").size(), 61U);
  EXPECT_GE(file.end, file.changes.at("left").back().time);
}

TEST(Vcd, LevelBeforeTheFirstEdgeIsItsOppositeAndUnknownWithoutOne) {
  auto world = bare_world();
  EXPECT_EQ(written(world).changes["left"], (std::vector<Change>{{0, 'x'}}));
  EXPECT_EQ(written(world).changes["throttle"], (std::vector<Change>{{0, '0'}}));  // the board's own outputs start low
  world.capture.response = {{{1600}, 0, false, 1, false}};
  EXPECT_EQ(written(world).changes["left"], (std::vector<Change>{{0, '1'}, {1000, '0'}}));
}

TEST(Vcd, EdgeThatRepeatsALevelIsLeftOutAndCounted) {
  auto world = bare_world();
  world.capture.response = {{{1600}, 0, true, 1, false}, {{3200}, 0, true, 1, false}, {{4800}, 0, false, 1, false}};
  const auto file = written(world);
  EXPECT_EQ(file.changes.at("left"), (std::vector<Change>{{0, '0'}, {1000, '1'}, {3000, '0'}}));
  EXPECT_NE(file.comments.find("1 edges repeated"), std::string::npos) << file.comments;
}

TEST(Vcd, NamesBecomeLegalAndUnique) {
  auto world = bare_world();
  world.plan.controller.inputs = {{"1st stick $end", "S1", 0, 0, 0}, {"left", "S2", 1, 0, 0}};
  std::vector<std::string> names;
  for (const auto& [id, name] : written(world).names) names.push_back(name);
  EXPECT_EQ(names, (std::vector<std::string>{"_1st_stick__end", "left", "left_2"}));
}

TEST(Vcd, CommentsCannotBeEndedByANameAndStayAscii) {
  auto world = mower_world();
  world.plan.name = "x $end $var wire 1 ~ evil $end \xff\n\u00b5";
  world.capture.identity.controller = "$enddefinitions $end";
  const auto text = capture_vcd(world.capture, world.plan.controller, world.plan.name, world.facts.started);
  EXPECT_EQ(read_vcd(text).names.size(), 5U);
  for (const char c : text) ASSERT_TRUE(c == '\n' || (c >= ' ' && c <= '~'));
}

TEST(Vcd, IncompleteRunSaysSo) { EXPECT_NE(written(test::empty_world()).comments.find("the bench fell silent"), std::string::npos); }

TEST(Vcd, LinesOfTheBoardWithoutANameAppearOnlyWhenTheyMoved) {
  auto world = bare_world();
  add_pulses(world.capture.response, 7, 16'000, 0, 16'000, 1);
  EXPECT_EQ(written(world).changes.count("P6"), 1U);
  EXPECT_EQ(written(world).changes.count("P5"), 0U);
}

}  // namespace
}  // namespace midstick::report
