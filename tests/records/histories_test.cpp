// Histories: numbers and verdicts over many nights, of complete runs of the plan itself.
#include "tests/records/engines.hpp"

namespace midstick::records_test {
namespace {

using Histories = WithRecords;
MIDSTICK_ON_BOTH_ENGINES(Histories);

std::vector<double> values(const store::Records::Series& series) {
  std::vector<double> out;
  for (const auto& p : series.points) out.push_back(p.value);
  return out;
}

TEST_P(Histories, EveryMetricIsASeriesByNameOldestFirst) {
  play(*records_, request("rev A"), "pass", 10, {}, {{"Zero", "µs", 1, 0.5}, {"apex", "%", 10, {}}});
  play(*records_, request("rev B"), "fail", 20, {}, {{"apex", "%", 11, {}}, {"Zero", "µs", 2, {}}});
  const auto series = must(records_->series("mower", "nightly"));
  ASSERT_EQ(series.size(), 2u);
  EXPECT_EQ(series[0].name, "Zero") << "in the order of bytes, whatever the engine's";
  EXPECT_EQ(series[0].unit, "µs");
  EXPECT_EQ(values(series[0]), (std::vector<double>{1, 2}));
  EXPECT_EQ(values(series[1]), (std::vector<double>{10, 11}));
  EXPECT_EQ(series[0].points[0].at, 10);
  EXPECT_EQ(series[0].points[0].build, "rev A");
  EXPECT_EQ(series[0].points[0].uncertainty, 0.5);
  EXPECT_EQ(series[0].points[1].build, "rev B");
  EXPECT_EQ(series[0].points[1].uncertainty, std::nullopt);
  EXPECT_TRUE(must(records_->series("mower", "weekly")).empty());
  EXPECT_TRUE(must(records_->series("saw", "nightly")).empty());
}

TEST_P(Histories, EachBenchHasASeriesOfItsOwn) {
  const auto on = [&](const char* bench, double value) {
    const auto job = must(records_->submit(request(), 1));
    store::RunRow run;
    run.id = must(records_->begin(job, bench, 1));
    run.state = "complete", run.verdict = "pass", run.ended = 2;
    must(records_->finish(run, {}, {{"zero", "µs", value, {}}}, false));
  };
  on("west", 1), on("east", 9), on("west", 2);
  const auto series = must(records_->series("mower", "nightly"));
  ASSERT_EQ(series.size(), 2u);
  EXPECT_EQ(series[0].bench, "east");
  EXPECT_EQ(values(series[0]), std::vector<double>{9});
  EXPECT_EQ(series[1].bench, "west");
  EXPECT_EQ(values(series[1]), (std::vector<double>{1, 2}));
}

TEST_P(Histories, RunsCutShortAndReplaysAreNoNights) {
  play(*records_, request(), "pass", 10, {{"neutral", "pass", "", "", false}}, {{"a", "", 1, {}}});
  play(*records_, request(), "", 20, {{"neutral", "fail", "", "", false}}, {{"a", "", 2, {}}});
  store::JobRequest replay = request();
  replay.document = "{}";
  play(*records_, replay, "fail", 30, {{"neutral", "fail", "", "", false}}, {{"a", "", 3, {}}});
  EXPECT_EQ(values(must(records_->series("mower", "nightly"))[0]), std::vector<double>{1});
  EXPECT_EQ(must(records_->verdicts("mower", "nightly", "rev A", "neutral", 10)), std::vector<std::string>{"pass"});
}

TEST_P(Histories, VerdictsAreTheNewestOfOneCheckAndBuild) {
  for (const char* verdict : {"pass", "fail", "inconclusive", "pass", "fail"})
    play(*records_, request("rev A"), "pass", 1, {{"neutral", verdict, "", "", false}, {"jitter", "pass", "", "", false}});
  play(*records_, request("rev B"), "pass", 1, {{"neutral", "pass", "", "", false}});
  using Words = std::vector<std::string>;
  EXPECT_EQ(must(records_->verdicts("mower", "nightly", "rev A", "neutral", 3)), (Words{"fail", "pass", "inconclusive"}));
  EXPECT_EQ(must(records_->verdicts("mower", "nightly", "rev B", "neutral", 3)), Words{"pass"});
  EXPECT_EQ(must(records_->verdicts("mower", "nightly", "rev A", "relay", 3)), Words{});
  EXPECT_FALSE(records_->verdicts("mower", "nightly", "rev A", "neutral", 0).ok());
}

}  // namespace
}  // namespace midstick::records_test
