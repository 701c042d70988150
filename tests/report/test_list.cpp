#include <gtest/gtest.h>

#include <sstream>

#include "daemon/report/list.hpp"

namespace midstick::report {
namespace {

const std::vector<std::string> kHeads{"id", "verdict", "controller", "summary"};
const std::vector<std::vector<std::string>> kRows{
    {"1", "pass", "bank-mower", "38 passed, 1 not run."},
    {"2", "fail", "bank-mower-with-the-long-antenna", "33 passed, 4 failed, 1 inconclusive, 1 not run. First: random-sticks."}};

std::vector<std::string> lines_of(const std::string& text) {
  std::vector<std::string> lines;
  std::istringstream in(text);
  for (std::string line; std::getline(in, line);) lines.push_back(line);
  return lines;
}

TerminalStyle wide(int width) {
  TerminalStyle style;
  style.width = width;
  return style;
}

TEST(List, HeaderAndRowsStandInOneColumnEach) {
  const auto lines = lines_of(list_text(kHeads, kRows, Last::cut, wide(200)));
  ASSERT_EQ(lines.size(), 3u);
  for (const char* word : {"controller", "bank-mower ", "bank-mower-with"}) {
    const auto& line = lines[word == std::string("controller") ? 0 : word == std::string("bank-mower ") ? 1 : 2];
    EXPECT_EQ(line.find(word), 13u) << line;
  }
}

TEST(List, APipeTakesEveryRowWholeAndOnOneLine) {
  TerminalStyle pipe = wide(80);
  pipe.cut = false;
  for (const auto last : {Last::cut, Last::whole}) {
    const auto lines = lines_of(list_text(kHeads, kRows, last, pipe));
    ASSERT_EQ(lines.size(), 3u);
    EXPECT_TRUE(lines[2].ends_with("First: random-sticks.")) << lines[2];
    EXPECT_NE(lines[2].find("bank-mower-with-the-long-antenna"), std::string::npos) << lines[2];
  }
}

TEST(List, ATerminalCutsOnlyTheLastColumn) {
  const auto lines = lines_of(list_text(kHeads, kRows, Last::cut, wide(80)));
  ASSERT_EQ(lines.size(), 3u);
  EXPECT_NE(lines[2].find("bank-mower-with-the-long-antenna"), std::string::npos) << lines[2];
  EXPECT_TRUE(lines[2].ends_with("…")) << lines[2];
}

TEST(List, TooLittleLeftForTheLastColumnPutsItBelowItsRow) {
  const auto lines = lines_of(list_text(kHeads, kRows, Last::cut, wide(60)));
  ASSERT_EQ(lines.size(), 5u);
  EXPECT_EQ(lines[2], "  38 passed, 1 not run.");
}

TEST(List, LastColumnToldWholeIsBrokenIntoLines) {
  const auto text = list_text(kHeads, kRows, Last::whole, wide(60));
  EXPECT_EQ(text.find("…"), std::string::npos) << text;
  EXPECT_NE(text.find("\n  random-sticks.\n"), std::string::npos) << text;
}

TEST(List, NarrowTerminalGetsOneValueALine) {
  const auto text = list_text(kHeads, kRows, Last::cut, wide(40));
  EXPECT_NE(text.find("id 2\n  verdict fail\n  controller\n  bank-mower-with-the-long-antenna\n  33 passed"), std::string::npos) << text;
}

TEST(List, FitsAnyWidthOfATerminal) {
  for (int width = 20; width <= 120; ++width)
    for (const auto last : {Last::cut, Last::whole})
      for (const auto& line : lines_of(list_text(kHeads, kRows, last, wide(width))))
        ASSERT_LE(columns(line), width) << "width " << width << ": " << line;
}

TEST(List, TextFromAFileCannotMoveTheCursorOrMakeARow) {
  const auto lines = lines_of(list_text({"id", "note"}, {{"1", "a\nb\x1b[2J"}}, Last::cut, wide(80)));
  ASSERT_EQ(lines.size(), 2u);
  EXPECT_EQ(lines[1].find('\x1b'), std::string::npos);
}

}  // namespace
}  // namespace midstick::report
