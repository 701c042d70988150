// Evidence goes by age and size, a failing run's never first, and what a person reads of a run stays.
#include "daemon/store/retention.hpp"

#include <algorithm>

#include "daemon/store/files.hpp"
#include "tests/records/engines.hpp"

namespace midstick::records_test {
namespace {

namespace fs = std::filesystem;
constexpr store::UnixMs kDay = 24 * 3'600'000;
using Ids = std::vector<std::int64_t>;

class Retention : public WithRecords {
 protected:
  /// A run of `verdict` that ended `day` days after the beginning, with 1000 bytes of capture and 100 of report in its folder.
  std::int64_t night(const std::string& verdict, int day) {
    const auto run = play(*records_, request(), verdict, day * kDay - 60'000).id;
    const fs::path folder = runs_ / std::to_string(run);
    fs::create_directories(folder);
    must(store::replace_file(folder / "capture.json.zst", std::string(700, 'c')));
    must(store::replace_file(folder / "capture.vcd", std::string(200, 'v')));
    for (const char* name : {"report.json", "report.html", "junit.xml", "plan.json", "run.json"})
      must(store::replace_file(folder / name, std::string(20, 'r')));
    EXPECT_EQ(store::folder_bytes(folder), 1000);
    return run;
  }
  Ids dropped(const store::KeepRules& rules, int day) { return must(store::keep_within(*records_, runs_, rules, day * kDay)).dropped; }

  fs::path runs_{scratch_.path() / "runs"};
};
MIDSTICK_ON_BOTH_ENGINES(Retention);

TEST_P(Retention, TheOrderIsPassedThenCutShortThenInconclusiveThenFailedOldestFirst) {
  const auto fail = night("fail", 1), inconclusive = night("inconclusive", 1), cut = night("", 1), pass = night("pass", 1),
             late = night("pass", 2), fail_late = night("fail", 2);
  must(records_->begin(must(records_->submit(request(), 1)), "left bench", 1));  // its capture is being written
  Ids order;
  for (const auto& run : must(records_->droppable())) order.push_back(run.id);
  EXPECT_EQ(order, (Ids{pass, late, cut, inconclusive, fail, fail_late}));
}

TEST_P(Retention, WhatAKilledDaemonLeftIsWeighedAfterwards) {
  const auto before = must(records_->bytes_kept());
  const auto run = must(records_->begin(must(records_->submit(request(), 1)), "left bench", 1));
  EXPECT_FALSE(records_->weighed(run, 1000).ok()) << "it is being written";
  must(records_->recover(2));
  must(records_->weighed(run, 1000));
  EXPECT_EQ(must(records_->bytes_kept()), before + 1000);
}

TEST_P(Retention, APrepareCommandsLogGoesWithTheCapture) {
  const auto run = night("pass", 1), kept = night("fail", 9);
  const auto log = [&](std::int64_t of) { return scratch_.path() / "logs" / ("prepare-" + std::to_string(of) + ".log"); };
  fs::create_directories(log(run).parent_path());
  for (const auto of : {run, kept}) must(store::replace_file(log(of), "built"));
  EXPECT_EQ(dropped({5, 0}, 10), Ids{run});
  EXPECT_FALSE(fs::exists(log(run)));
  EXPECT_TRUE(fs::exists(log(kept)));
}

TEST_P(Retention, WithoutRulesNothingGoes) {
  night("pass", 1);
  EXPECT_EQ(dropped({}, 10'000), Ids{});
}

TEST_P(Retention, AgeTakesWhatIsOlderThanItsDays) {
  const auto a = night("pass", 1);
  const auto b = night("pass", 2);
  night("pass", 3);
  EXPECT_EQ(dropped({10, 0}, 11), Ids{}) << "on its tenth day it is still kept";
  EXPECT_EQ(dropped({10, 0}, 12), Ids{a});
  EXPECT_EQ(dropped({10, 0}, 12), Ids{});
  EXPECT_EQ(dropped({10, 0}, 13), Ids{b});
}

TEST_P(Retention, AnOldFailingRunOutlivesAYoungPassedOne) {
  const auto fail = night("fail", 1);
  const auto pass = night("pass", 50);
  EXPECT_EQ(dropped({10, 0}, 55), Ids{});
  EXPECT_EQ(dropped({10, 0}, 61), (Ids{pass, fail}));
}

TEST_P(Retention, SizeTakesNoMoreThanItMust) {
  const auto fail = night("fail", 1);
  const auto a = night("pass", 2), b = night("pass", 3), c = night("pass", 4);
  EXPECT_EQ(must(records_->bytes_kept()), 4000);
  auto kept = must(store::keep_within(*records_, runs_, {0, 2200}, 5 * kDay));
  EXPECT_EQ(kept.dropped, (Ids{a, b}));
  EXPECT_EQ(kept.bytes, 2200);
  EXPECT_FALSE(kept.over);
  EXPECT_EQ(must(records_->bytes_kept()), 2200);
  kept = must(store::keep_within(*records_, runs_, {0, 1}, 5 * kDay));
  EXPECT_EQ(kept.dropped, (Ids{c, fail}));
  EXPECT_TRUE(kept.over) << "reports stay, also when the rule cannot be met";
}

TEST_P(Retention, WhatAPersonReadsStays) {
  const auto run = night("pass", 1);
  const fs::path folder = runs_ / std::to_string(run);
  for (const char* left_by_a_kill :
       {".capture.json.writing", ".capture.json.zst.writing", ".capture.vcd.writing", ".capture.vcd.zst.writing"})
    must(store::replace_file(folder / left_by_a_kill, "half"));
  EXPECT_EQ(dropped({1, 0}, 5), Ids{run});
  std::vector<std::string> left;
  for (const auto& entry : fs::directory_iterator(folder)) left.push_back(entry.path().filename());
  std::ranges::sort(left);
  EXPECT_EQ(left, (std::vector<std::string>{"junit.xml", "plan.json", "report.html", "report.json", "run.json"}));
  const auto row = must(records_->run(run));
  EXPECT_FALSE(row->evidence);
  EXPECT_EQ(row->bytes, 100);
  EXPECT_EQ(row->verdict, "pass");
}

TEST_P(Retention, AFolderThatAPersonTookAwayIsNoTrouble) {
  const auto run = night("pass", 1);
  fs::remove_all(runs_ / std::to_string(run));
  EXPECT_EQ(dropped({1, 0}, 5), Ids{run});
  EXPECT_EQ(must(records_->bytes_kept()), 0);
}

TEST_P(Retention, ARunsFolderThatIsNotMountedHasLostNothing) {
  const auto run = night("pass", 1);
  fs::rename(runs_, scratch_.path() / "unmounted");
  const auto kept = store::keep_within(*records_, runs_, {1, 0}, 5 * kDay);
  ASSERT_FALSE(kept.ok());
  EXPECT_NE(kept.error().message.find(runs_.string()), std::string::npos) << kept.error().message;
  EXPECT_TRUE(must(records_->run(run))->evidence);
  fs::rename(scratch_.path() / "unmounted", runs_);
  EXPECT_EQ(dropped({1, 0}, 5), Ids{run});
}

TEST_P(Retention, AFileThatCannotBeRemovedStopsItAndTheRecordsStillSayItIsThere) {
  const auto run = night("pass", 1);
  fs::create_directories(runs_ / std::to_string(run) / "capture.json" / "in the way");
  const auto kept = store::keep_within(*records_, runs_, {1, 0}, 5 * kDay);
  ASSERT_FALSE(kept.ok());
  EXPECT_NE(kept.error().message.find("capture.json"), std::string::npos);
  EXPECT_TRUE(must(records_->run(run))->evidence);
}

TEST_P(Retention, ARunningRunsEvidenceIsNotNotedAsDropped) {
  const auto run = must(records_->begin(must(records_->submit(request(), 1)), "left bench", 1));
  EXPECT_FALSE(records_->evidence_dropped(run, 0).ok());
  EXPECT_FALSE(records_->away());
}

}  // namespace
}  // namespace midstick::records_test
