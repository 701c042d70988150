#include "daemon/trend/history.hpp"

#include <gtest/gtest.h>

#include <algorithm>

#include "tests/e2e/scratch_folder.hpp"
#include "tests/trend/run_folders.hpp"

namespace midstick::trend {
namespace {

using test::day;
using test::Made;
using test::make_run;

std::string why(const History& history, const std::string& folder) {
  for (const auto& l : history.left_out)
    if (l.folder.filename() == folder) return l.why;
  return "not left out";
}

TEST(History, NightsAreInOrderOfTheirStartWhateverTheFoldersAreCalled) {
  const e2e::ScratchFolder folder;
  make_run(folder / "b", {day(0), "rev A", "drive", "nightly", 1});
  make_run(folder / "deep/er/a", {day(2), "rev A", "drive", "nightly", 3});
  make_run(folder / "c", {day(1), "rev A", "drive", "nightly", 2});
  const auto history = read_history({folder / ""});
  ASSERT_TRUE(history) << history.error().message;
  ASSERT_EQ(history->metrics.size(), 2u);
  const Metric& m = history->metrics[0];
  EXPECT_EQ(m.name(), "neutral: left mean");
  ASSERT_EQ(m.nights.size(), 3u);
  for (int i = 0; i < 3; ++i) EXPECT_EQ(m.nights[static_cast<std::size_t>(i)].value, i + 1);
  EXPECT_EQ(m.nights[0].uncertainty, 0.1);
  EXPECT_EQ(m.limit_high, 5);
  EXPECT_EQ(history->runs, 3u);
  // A value that could not be measured is no value, and is counted.
  EXPECT_TRUE(history->metrics[1].nights.empty());
  EXPECT_EQ(history->metrics[1].without_value, 3u);
}

TEST(History, SeriesAreKeptPerControllerBuildAndPlan) {
  const e2e::ScratchFolder folder;
  make_run(folder / "1", {day(0), "rev A"});
  make_run(folder / "2", {day(1), "rev B"});
  make_run(folder / "3", {day(2), "rev A", "other drive"});
  make_run(folder / "4", {day(3), "rev A", "drive", "other plan"});
  make_run(folder / "5", {day(4), ""});
  const auto history = read_history({folder / ""});
  ASSERT_TRUE(history);
  EXPECT_EQ(history->metrics.size(), 10u);
  for (const auto& m : history->metrics) EXPECT_LE(m.nights.size(), 1u);
  EXPECT_TRUE(std::any_of(history->metrics.begin(), history->metrics.end(), [](const Metric& m) { return m.build == "abcd"; }))
      << "without a label the images' fingerprint is the build";
}

TEST(History, ARunFoundTwiceCountsOnce) {
  const e2e::ScratchFolder folder;
  make_run(folder / "1", {});
  const auto history = read_history({folder / "", folder / "1"});
  ASSERT_TRUE(history);
  EXPECT_EQ(history->metrics[0].nights.size(), 1u);
}

TEST(History, WhatCannotBeUsedIsNamedWithItsReason) {
  const e2e::ScratchFolder folder;
  make_run(folder / "good", {});
  make_run(folder / "unfinished", {});
  test::write(folder / "unfinished/run.json", R"({"format": "midstick run 1", "state": "incomplete"})");
  make_run(folder / "corrupt", {});
  test::write(folder / "corrupt/report.json", "{\"version\": 1, \"run\": {");
  make_run(folder / "foreign", {});
  auto foreign = test::report({});
  foreign["version"] = 7;
  test::write(folder / "foreign/report.json", foreign.dump());
  make_run(folder / "misshapen", {});
  auto misshapen = test::report({});
  misshapen["checks"][0].erase("measures");
  test::write(folder / "misshapen/report.json", misshapen.dump());
  make_run(folder / "cut", {});
  auto cut = test::report({});
  cut["run"]["complete"] = false;
  test::write(folder / "cut/report.json", cut.dump());
  make_run(folder / "bare", {});
  std::filesystem::remove(folder / "bare/report.json");
  test::write(folder / "loose/report.json", test::report({}).dump());
  make_run(folder / ".being-made.new", {});

  const auto history = read_history({folder / ""});
  ASSERT_TRUE(history);
  EXPECT_EQ(history->runs, 1u);
  EXPECT_EQ(history->left_out.size(), 7u);
  EXPECT_EQ(why(*history, "unfinished"), "the run did not finish");
  EXPECT_EQ(why(*history, "corrupt"), "report.json is not a JSON object");
  EXPECT_EQ(why(*history, "foreign"), "report.json is not a report of version 1");
  EXPECT_NE(why(*history, "misshapen").find("measures"), std::string::npos);
  EXPECT_EQ(why(*history, "cut"), "the run was cut short");
  EXPECT_EQ(why(*history, "bare"), "report.json is missing or cannot be read");
  EXPECT_EQ(why(*history, "loose"), "run.json is missing or cannot be read");
}

TEST(History, NoRunAtAllIsAnError) {
  const e2e::ScratchFolder folder;
  EXPECT_FALSE(read_history({folder / ""}));
  EXPECT_FALSE(read_history({folder / "not-there"}));
}

}  // namespace
}  // namespace midstick::trend
