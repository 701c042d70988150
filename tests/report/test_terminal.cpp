#include <gtest/gtest.h>

#include <sstream>

#include "daemon/report/progress.hpp"
#include "daemon/report/table.hpp"
#include "tests/report/world.hpp"

namespace midstick::report {
namespace {

using judge::Verdict;

Environment terminal() { return {true, 100, nullptr, "xterm", nullptr, nullptr, "C.UTF-8"}; }

TEST(TerminalStyle, ColourNeedsATerminalThatCanAndNobodyAgainstIt) {
  auto e = terminal();
  EXPECT_TRUE(terminal_style(e).colour);
  e.no_color = "";  // set but empty counts as not set
  EXPECT_TRUE(terminal_style(e).colour);
  e.no_color = "1";
  EXPECT_FALSE(terminal_style(e).colour);
  e = terminal();
  e.is_terminal = false;
  EXPECT_FALSE(terminal_style(e).colour);
  e = terminal();
  e.term = "dumb";
  EXPECT_FALSE(terminal_style(e).colour);
}

TEST(TerminalStyle, LocaleDecidesTheCharacterSetInPosixOrder) {
  auto e = terminal();
  EXPECT_TRUE(terminal_style(e).utf8);
  e.lc_ctype = "de_DE.ISO-8859-1";
  EXPECT_FALSE(terminal_style(e).utf8);
  e.lc_all = "en_GB.utf8";
  EXPECT_TRUE(terminal_style(e).utf8);
  EXPECT_FALSE(terminal_style({}).utf8);
}

TEST(TerminalStyle, WidthIsTheTerminalsOrEighty) {
  EXPECT_EQ(terminal_style(terminal()).width, 100);
  EXPECT_EQ(terminal_style({}).width, 80);
  EXPECT_EQ(terminal_style({true, 3, nullptr, nullptr, nullptr, nullptr, nullptr}).width, 20);
}

TEST(TerminalStyle, WhatIsNoTerminalGetsEverythingWhole) {
  EXPECT_TRUE(terminal_style(terminal()).cut);
  const auto pipe = terminal_style({});
  EXPECT_FALSE(pipe.cut);
  EXPECT_EQ(fit("a name longer than its place", 6, pipe), "a name longer than its place");
}

TEST(ResultTable, APipeGetsNamesAndLimitsWhole) {
  auto world = test::mower_world();
  const std::string name = "a-name-without-any-space-that-is-much-longer-than-a-terminal-is-wide-and-more-of-it";
  world.result.checks[0].name = name;
  const auto table = result_table(world.result, terminal_style({}));
  EXPECT_NE(table.find("\n" + name), std::string::npos) << table;
  EXPECT_EQ(table.find("..."), std::string::npos) << table;
}

TEST(ResultTable, FitsAnyWidthInEveryStyle) {
  auto world = test::mower_world();
  world.result.checks[0].name = "a-name-without-any-space-that-is-much-longer-than-a-narrow-terminal-is-wide-and-more";
  auto& decided = world.result.checks[1].measures[1];
  decided.measured = 123456789.123;
  decided.limit_low = -123456789.125;
  decided.limit_high = 123456789.125;
  for (int width = 20; width <= 120; ++width) {
    for (const bool utf8 : {true, false}) {
      std::istringstream lines(result_table(world.result, {width, false, utf8}));
      for (std::string line; std::getline(lines, line);) ASSERT_LE(columns(line), width) << "width " << width << ": " << line;
    }
  }
}

TEST(ResultTable, SaysVerdictMeasuredLimitSamplesAndReasonAtEightyColumns) {
  const auto table = result_table(test::mower_world().result, {80, false, true});
  EXPECT_NE(table.find("static-mix        fail          250.31 ± 0.30 µs        at most 8 µs         169\n"
                       "  At full throttle and full right stick the right output is 250 µs too high:\n"
                       "  steering is lost where the spec asks for proportional.\n"),
            std::string::npos)
      << table;
  EXPECT_NE(table.find("\nfail\n  2 of 5 checks failed"), std::string::npos) << table;
}

TEST(ResultTable, SaysWhatAFailureIsConsistentWithAndWhatNothingKnownFits) {
  const auto table = result_table(test::mower_world().result, {80, false, true});
  const auto first =
      table.find("  Consistent with: each side clipped alone, so steering is lost at speed\n  (explains all 169 readings within 8 µs).\n");
  EXPECT_NE(first, std::string::npos) << table;
  EXPECT_LT(first, table.find("  Or with: an output limit set to another width, or missing")) << table;
  EXPECT_NE(table.find("500 ms.\n  No known cause fits.\n"), std::string::npos) << table;
}

TEST(ResultTable, OneLineSaysWhereTheTimeWent) {
  auto world = test::mower_world();
  world.result.checks[3].board_ms = 5000;
  world.result.checks[4].board_ms = 400;
  const auto table = result_table(world.result, {120, false, true});
  EXPECT_NE(
      table.find(
          "  Time: 12.6 s of board time in checks: signal-loss 40 %, neutral 19 %, static-mix 19 %, output-frame 19 %, 1 more 3 %.\n"),
      std::string::npos)
      << table;
}

TEST(ResultTable, ACheckThatWasNotRunSaysSoInThePlaceOfItsVerdict) {
  const auto text = result_table(test::world_with_a_check_left_out().result, {80, false, true});
  EXPECT_NE(text.find("not run"), std::string::npos) << text;
  EXPECT_NE(text.find("nobody is there to open a wire."), std::string::npos) << text;
  EXPECT_EQ(result_table(test::mower_world().result, {80, false, true}).find("not run"), std::string::npos);
}

TEST(ResultTable, NarrowTerminalGetsABlockForEachCheck) {
  const auto table = result_table(test::mower_world().result, {40, false, true});
  EXPECT_NE(table.find("fail\n  static-mix\n    measured 250.31 ± 0.30 µs\n    limit at most 8 µs\n    169 samples\n"), std::string::npos)
      << table;
}

TEST(ResultTable, NameThatDoesNotFitIsGivenInFullWithTheReason) {
  const auto table = result_table(test::mower_world().result, {80, false, true});
  EXPECT_NE(table.find("  recovery after loss of both: The bench lost"), std::string::npos) << table;
}

TEST(ResultTable, ColourIsAddedOnlyWhereAllowedAndNeverInsteadOfTheWord) {
  const auto plain_table = result_table(test::mower_world().result, {80, false, true});
  auto coloured_table = result_table(test::mower_world().result, {80, true, true});
  EXPECT_EQ(plain_table.find('\x1b'), std::string::npos);
  EXPECT_NE(coloured_table.find('\x1b'), std::string::npos);
  for (std::size_t at; (at = coloured_table.find('\x1b')) != std::string::npos;)
    coloured_table.erase(at, coloured_table.find('m', at) - at + 1);
  EXPECT_EQ(coloured_table, plain_table);
}

TEST(ResultTable, AsciiTerminalGetsOnlyAscii) {
  for (const char c : result_table(test::mower_world().result, {80, false, false})) ASSERT_TRUE(c == '\n' || (c >= ' ' && c <= '~'));
}

TEST(ResultTable, NameFromAFileCannotMoveTheCursor) {
  auto world = test::mower_world();
  world.result.checks[0].name = "\x1b[2J\rpass";
  world.result.summary = "a\x07\n b";
  const auto table = result_table(world.result, {80, false, true});
  for (const char control : {'\x1b', '\r', '\x07'}) EXPECT_EQ(table.find(control), std::string::npos);
}

TEST(ResultTable, RunWithoutChecksStillSaysWhy) {
  EXPECT_EQ(result_table(test::empty_world().result, {80, false, true}), "\ninconclusive\n  Nothing was captured.\n");
}

TEST(ProgressLine, ShowsCheckPlaceBarAndBoardTimeLeft) {
  EXPECT_EQ(progress_line({"static-mix", 3, 9, 60'000, 120'000}, {60, false, true}),
            "static-mix  3/9  ███████████████░░░░░░░░░░░░░░░  1:00 left");
  EXPECT_EQ(progress_line({"static-mix", 3, 9, 30'000, 120'000}, {40, false, false}), "static-mix  3/9  ###.........  1:30 left");
}

TEST(ProgressWords, PowerUpBeforeTheFirstCheckAndJudgingAfterTheLast) {
  ProgressWords words;
  const auto told = [&](const char* check, int number, double done_ms) { return words.told({check, number, 2, done_ms, 1000}); };
  EXPECT_EQ(told("", 0, 100).check, "power-up and arming");
  EXPECT_EQ(told("neutral", 1, 300).check, "neutral");
  EXPECT_EQ(told("", 0, 400).check, "neutral") << "between two checks";
  EXPECT_EQ(told("", 0, 400).number, 1);
  EXPECT_EQ(told("static-mix", 2, 500).check, "static-mix");
  EXPECT_EQ(told("", 0, 990).check, "judging");
  EXPECT_EQ(told("", 0, 990).number, 2);
  EXPECT_EQ(told("", 0, 10).check, "power-up and arming") << "the next run";
}

TEST(ProgressWords, WhoLooksInAtTheEndIsNotToldOfPowerUp) {
  ProgressWords words;
  EXPECT_EQ(words.told({"", 0, 2, 990, 1000}).check, "judging");
}

TEST(ProgressLine, NeverWiderThanTheTerminalAndNeverALineFeed) {
  for (int width = 20; width < 120; ++width) {
    const auto line = progress_line({"a rather long name of a check\nin two lines", 12, 34, 1, 7'200'000}, {width, false, true});
    ASSERT_LE(columns(line), width) << line;
    ASSERT_EQ(line.find('\n'), std::string::npos);
  }
}

TEST(ProgressLine, StaysSaneAtTheEndsAndBeyond) {
  EXPECT_NE(progress_line({"x", 1, 1, 0, 0}, {40, false, false}).find("...  0:00 left"), std::string::npos);
  EXPECT_NE(progress_line({"x", 1, 1, 500'000, 100}, {40, false, false}).find("###  0:00 left"), std::string::npos);
  EXPECT_NE(progress_line({"x", 1, 1, -5, 1000}, {40, false, false}).find("...  0:02 left"), std::string::npos);
}

}  // namespace
}  // namespace midstick::report
