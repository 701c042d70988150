// Runs: begun and ended in one step with their job, checks and metrics, and taken up again after a crash.
#include <cmath>

#include "tests/records/engines.hpp"

namespace midstick::records_test {
namespace {

using store::JobState;
using store::RunRow;

class Runs : public WithRecords {
 protected:
  RunRow run(std::int64_t id) { return must(records_->run(id)).value_or(RunRow{}); }
  store::Job job(std::int64_t id) { return must(records_->job(id)).value_or(store::Job{}); }
  RunRow begun(int tries) {
    store::JobRequest r = request();
    r.tries = tries;
    return run(must(records_->begin(must(records_->submit(r, 1)), "left bench", 2)));
  }
};
MIDSTICK_ON_BOTH_ENGINES(Runs);

TEST_P(Runs, BeginMakesARunOfWhatTheJobAsksFor) {
  const RunRow r = begun(1);
  EXPECT_EQ(r.plan, "nightly");
  EXPECT_EQ(r.controller, "mower");
  EXPECT_EQ(r.build, "rev A");
  EXPECT_EQ(r.bench, "left bench");
  EXPECT_EQ(r.began, 2);
  EXPECT_EQ(r.ended, std::nullopt);
  EXPECT_EQ(r.state, "running");
  EXPECT_EQ(r.verdict, "");
  EXPECT_TRUE(r.evidence);
  const auto j = job(r.job);
  EXPECT_EQ(j.state, JobState::running);
  EXPECT_EQ(j.run, r.id);
  EXPECT_EQ(j.begun, 1);
}

TEST_P(Runs, AJobThatIsNotQueuedIsNotBegun) {
  const RunRow r = begun(5);
  for (const std::int64_t id : {r.job, std::int64_t{999'999}}) {
    const auto again = records_->begin(id, "left bench", 3);
    ASSERT_FALSE(again.ok());
    EXPECT_EQ(again.error().kind, ErrorKind::usage);
    EXPECT_FALSE(records_->away());
  }
  EXPECT_EQ(must(records_->running()).size(), 1u);
  EXPECT_EQ(job(r.job).begun, 1);
}

TEST_P(Runs, FinishKeepsEverythingAsItWasSaid) {
  RunRow r = ended(begun(1), "fail", 5000);
  r.summary = "1 of 3 checks failed";
  r.cause = "keeps driving when the link drops";
  r.failed = 1, r.inconclusive = 1, r.checks = 3, r.bytes = 123'456'789'012;
  must(records_->finish(r,
                        {{"neutral", "pass", "1500.2 µs", "", false},
                         {"link-loss", "fail", "drives on", "no failsafe", false},
                         {"jitter", "inconclusive", "", "", true},
                         {"relay", "not run", "", "", false}},
                        {{"neutral.left", "µs", 1500.0625, 0.1}, {"ratio", "", 1e-300, std::nullopt}, {"third", "ms", 1.0 / 3, 0.0}},
                        false));
  const RunRow back = run(r.id);
  EXPECT_EQ(back.state, "complete");
  EXPECT_EQ(back.verdict, "fail");
  EXPECT_EQ(back.ended, 5000);
  EXPECT_EQ(back.summary, r.summary);
  EXPECT_EQ(back.cause, r.cause);
  EXPECT_EQ(back.failed, 1);
  EXPECT_EQ(back.inconclusive, 1);
  EXPECT_EQ(back.checks, 3);
  EXPECT_EQ(back.bytes, 123'456'789'012);
  const auto checks = must(records_->checks(r.id));
  ASSERT_EQ(checks.size(), 4u);
  EXPECT_EQ(checks[0].name, "neutral");
  EXPECT_EQ(checks[0].summary, "1500.2 µs");
  EXPECT_EQ(checks[1].cause, "no failsafe");
  EXPECT_FALSE(checks[1].quarantined);
  EXPECT_TRUE(checks[2].quarantined);
  EXPECT_EQ(checks[3].verdict, "not run");
  const auto metrics = must(records_->metrics(r.id));
  ASSERT_EQ(metrics.size(), 3u);
  EXPECT_EQ(metrics[0].unit, "µs");
  EXPECT_EQ(metrics[0].value, 1500.0625);
  EXPECT_EQ(metrics[0].uncertainty, 0.1);
  EXPECT_EQ(metrics[1].value, 1e-300);
  EXPECT_EQ(metrics[1].uncertainty, std::nullopt);
  EXPECT_EQ(metrics[2].value, 1.0 / 3) << "to the last bit";
  EXPECT_EQ(job(r.job).state, JobState::done);
  EXPECT_EQ(job(r.job).ended, 5000);
}

TEST_P(Runs, AMetricThatIsNoNumberIsLeftOut) {
  const RunRow r =
      play(*records_, request(), "pass", 1, {}, {{"good", "", 1, std::nan("")}, {"nan", "", std::nan(""), {}}, {"far", "", HUGE_VAL, {}}});
  const auto metrics = must(records_->metrics(r.id));
  ASSERT_EQ(metrics.size(), 1u);
  EXPECT_EQ(metrics[0].name, "good");
  EXPECT_EQ(metrics[0].uncertainty, std::nullopt);
}

TEST_P(Runs, FinishIsWholeOrNothing) {
  const RunRow r = begun(1);
  // Something in the database objects to the last metric, after run, checks and other metrics were written.
  must(database_->query("CREATE UNIQUE INDEX spoil ON metric (run, name)"));
  EXPECT_FALSE(
      records_
          ->finish(ended(r, "pass", 9), {{"neutral", "pass", "", "", false}}, {{"a", "", 1, {}}, {"b", "", 2, {}}, {"a", "", 3, {}}}, false)
          .ok());
  EXPECT_FALSE(records_->away());
  EXPECT_EQ(run(r.id).state, "running");
  EXPECT_EQ(job(r.job).state, JobState::running);
  EXPECT_TRUE(must(records_->checks(r.id)).empty());
  EXPECT_TRUE(must(records_->metrics(r.id)).empty());
  must(database_->query("DROP INDEX spoil"));
  must(records_->finish(ended(r, "pass", 9), {}, {}, false));
  EXPECT_EQ(job(r.job).state, JobState::done);
}

TEST_P(Runs, BeginIsWholeOrNothing) {
  const auto id = must(records_->submit(request(), 1));
  must(database_->query("ALTER TABLE run RENAME TO run_elsewhere"));
  EXPECT_FALSE(records_->begin(id, "left bench", 2).ok());
  must(database_->query("ALTER TABLE run_elsewhere RENAME TO run"));
  EXPECT_EQ(job(id).state, JobState::queued);
  EXPECT_EQ(job(id).begun, 0);
  must(records_->begin(id, "left bench", 3));
}

TEST_P(Runs, AnEndToldTwiceCountsOnceAndAnotherEndIsRefused) {
  const RunRow r = ended(begun(1), "pass", 9);
  const std::vector<store::CheckRow> checks{{"neutral", "pass", "", "", false}};
  must(records_->finish(r, checks, {}, false));
  must(records_->finish(r, checks, {}, false));
  EXPECT_EQ(must(records_->checks(r.id)).size(), 1u);
  RunRow other = r;
  other.verdict = "fail";
  const auto refused = records_->finish(other, {}, {}, false);
  ASSERT_FALSE(refused.ok());
  EXPECT_EQ(refused.error().kind, ErrorKind::usage);
  EXPECT_EQ(run(r.id).verdict, "pass");
  other.id = 999'999;
  EXPECT_FALSE(records_->finish(other, {}, {}, false).ok());
  other.state = "running";
  EXPECT_FALSE(records_->finish(other, {}, {}, false).ok());
  EXPECT_FALSE(records_->away());
}

TEST_P(Runs, AgainQueuesTheJobWhileTriesAreLeft) {
  RunRow r = begun(2);
  r.state = "error";
  r.summary = "the bench lost its clock";
  r.ended = 9;
  must(records_->finish(r, {}, {}, true));
  EXPECT_EQ(job(r.job).state, JobState::queued);
  EXPECT_EQ(job(r.job).ended, std::nullopt);
  EXPECT_EQ(job(r.job).note, r.summary);
  r = run(must(records_->begin(r.job, "left bench", 10)));
  EXPECT_EQ(job(r.job).begun, 2);
  r.state = "error";
  r.ended = 11;
  must(records_->finish(r, {}, {}, true));
  EXPECT_EQ(job(r.job).state, JobState::done) << "both tries are spent";
  EXPECT_EQ(job(r.job).ended, 11);
}

TEST_P(Runs, ACrashLeavesRunsThatRecoverMarksAndJobsThatAreRunAgain) {
  const RunRow twice = begun(2), once = begun(1), mine = begun(1);
  const RunRow whole = play(*records_, request(), "pass", 5);
  auto after = open();
  EXPECT_EQ(must(after->running()).size(), 3u);
  const auto interrupted = must(after->recover(100, {mine.id}));
  ASSERT_EQ(interrupted.size(), 2u);
  EXPECT_EQ(interrupted[0].id, twice.id);
  EXPECT_EQ(interrupted[0].state, "interrupted");
  EXPECT_EQ(interrupted[0].ended, 100);
  EXPECT_EQ(job(twice.job).state, JobState::queued);
  EXPECT_EQ(job(once.job).state, JobState::interrupted);
  EXPECT_EQ(job(once.job).ended, 100);
  EXPECT_NE(job(once.job).note, "");
  EXPECT_EQ(job(mine.job).state, JobState::running) << "this daemon is playing it";
  EXPECT_EQ(run(whole.id).verdict, "pass");
  EXPECT_EQ(must(after->recover(101, {mine.id})).size(), 0u);
  must(after->begin(twice.job, "right bench", 102));
}

TEST_P(Runs, ListsAreNewestFirstFilteredAndPaged) {
  store::JobRequest saw = request();
  saw.controller = "saw", saw.plan = "weekly";
  std::vector<std::int64_t> fails;
  for (int i = 0; i < 5; ++i) {
    fails.insert(fails.begin(), play(*records_, request(), "fail", i).id);
    play(*records_, request(), "pass", i);
  }
  const auto other = play(*records_, saw, "fail", 9).id;
  const auto ids = [&](store::RunFilter filter) {
    std::vector<std::int64_t> out;
    for (const auto& r : must(records_->runs(filter))) out.push_back(r.id);
    return out;
  };
  using Ids = std::vector<std::int64_t>;
  EXPECT_EQ(ids({}).size(), 11u);
  EXPECT_EQ(ids({})[0], other);
  EXPECT_EQ(ids({"saw", "", "", "", 0, 50}), Ids{other});
  EXPECT_EQ(ids({"", "weekly", "fail", "left bench", 0, 50}), Ids{other});
  EXPECT_EQ(ids({"", "", "", "right bench", 0, 50}), Ids{});
  EXPECT_EQ(ids({"mower", "", "fail", "", 0, 2}), (Ids{fails[0], fails[1]}));
  EXPECT_EQ(ids({"mower", "", "fail", "", fails[1], 2}), (Ids{fails[2], fails[3]}));
  EXPECT_EQ(ids({"mower", "", "fail", "", fails[4], 2}), Ids{});
  EXPECT_FALSE(records_->runs({"", "", "", "", 0, 201}).ok());
}

}  // namespace
}  // namespace midstick::records_test
