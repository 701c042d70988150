#include "daemon/trend/trend.hpp"

#include <gtest/gtest.h>

#include <nlohmann/json.hpp>
#include <random>
#include <sstream>
#include <string>

#include "daemon/trend/trend_html.hpp"
#include "daemon/trend/trend_json.hpp"
#include "daemon/trend/trend_table.hpp"
#include "daemon/trend/words.hpp"
#include "tests/trend/run_folders.hpp"

namespace midstick::trend {
namespace {

/// A metric of `nights` around 0 with an sd of 0.5 us, shifted by `step`, drifting by 1 us a night after `still`.
Metric metric(unsigned seed, const std::string& build, int nights, double step = 0, int still = 1000) {
  std::mt19937 random(seed);
  std::normal_distribution<double> noise(step, 0.5);
  Metric m{"drive", build, "virtual", "nightly", "neutral", "left mean", "us", -5, 5, {}, 0};
  for (int i = 0; i < nights; ++i)
    m.nights.push_back({test::day(i), "runs/" + std::to_string(i), noise(random) + (i >= still ? i - still + 1 : 0), 0.1});
  return m;
}

Trend analysed(std::vector<Metric> metrics, Request request = {}) {
  History history{std::move(metrics), {{"runs/x", "the run did not finish"}}, 99};
  return analyse(history, request).take();
}

TEST(Trend, NamesMetricNightAndSize) {
  const Trend t = analysed({metric(1, "rev A", 30, 0, 20), metric(2, "rev B", 30)});
  EXPECT_EQ(t.drifting(), 1u);
  EXPECT_EQ(exit_code(t), 1);
  const auto text = drift_sentence(t.metrics[0]);
  EXPECT_EQ(text.find("neutral: left mean began to rise about night 2"), 0u) << text;
  EXPECT_NE(text.find("2026-11-2"), std::string::npos) << text;
  EXPECT_NE(text.find("µs a night; flagged night 2"), std::string::npos) << text;
  EXPECT_EQ(drift_sentence(t.metrics[1]), "");
  EXPECT_NE(verdict_sentence(t).find("1 of 2 metrics drift."), std::string::npos);
}

TEST(Trend, SteadyNightsExitZeroAndTooFewExitTwo) {
  EXPECT_EQ(exit_code(analysed({metric(3, "rev A", 40)})), 0);
  const Trend few = analysed({metric(3, "rev A", 14, 0, 5)});
  EXPECT_EQ(exit_code(few), 2);
  EXPECT_EQ(state_word(few.metrics[0], few.setting), "too few nights (14, from 15 on)");
}

TEST(Trend, MoreMetricsRaiseTheDecisionValue) {
  std::vector<Metric> many;
  for (unsigned i = 0; i < 20; ++i) many.push_back(metric(i, "rev " + std::to_string(i), 20));
  EXPECT_GT(analysed(many).setting.decision, analysed({metric(1, "rev A", 20)}).setting.decision + 2);
}

TEST(Trend, ToleranceIntervalIsTheBaselines) {
  const Trend t = analysed({metric(4, "rev A", 30)});
  ASSERT_TRUE(t.metrics[0].tolerance);
  const auto& base = t.metrics[0].chart.baseline;
  EXPECT_EQ(base.samples, 14);
  EXPECT_NEAR((t.metrics[0].tolerance->high - base.mean) / base.sd, 3.012, 0.02);  // Howe's factor for 14 nights, within its 1 %
}

TEST(Trend, OnlyTheMetricAskedFor) {
  auto other = metric(5, "rev A", 20);
  other.measure = "right mean";
  Request request;
  request.metric = "right";
  EXPECT_EQ(analysed({metric(5, "rev A", 20), other}, request).metrics.size(), 1u);
  request.metric = "no such";
  EXPECT_FALSE(analyse(History{{metric(5, "rev A", 20)}, {}, 20}, request));
}

Request against(const std::string& build) {
  Request request;
  request.against = build;
  return request;
}

TEST(Comparison, ABuildThatMovedNeutralDiffers) {
  const Trend t = analysed({metric(6, "rev A", 12), metric(7, "rev B", 12, 2)}, against("rev A"));
  ASSERT_EQ(t.comparisons.size(), 1u);
  const Comparison& c = t.comparisons[0];
  EXPECT_TRUE(c.differs);
  EXPECT_GT(c.ranks.effect, 0.9);
  EXPECT_TRUE(c.ranks.exact);
  EXPECT_NEAR(c.median_shift, 2, 0.6);
  EXPECT_GT(c.outside, 0u);
  EXPECT_EQ(exit_code(t), 1);
}

TEST(Comparison, OfTheSameBehaviourSaysNothing) {
  const Trend t = analysed({metric(8, "rev A", 20), metric(9, "rev B", 20)}, against("rev A"));
  EXPECT_FALSE(t.comparisons.at(0).differs);
  EXPECT_NE(comparison_sentence(t, t.comparisons[0]).find("no difference shown"), std::string::npos);
}

TEST(Comparison, OfTooFewNightsSaysSo) {
  const Trend t = analysed({metric(10, "rev A", 3), metric(11, "rev B", 3, 50)}, against("rev A"));
  EXPECT_FALSE(t.comparisons.at(0).differs);
  EXPECT_NE(comparison_sentence(t, t.comparisons[0]).find("too few nights to tell"), std::string::npos);
  EXPECT_EQ(exit_code(t), 2);
}

// Clear to the tests, yet less than one night is known to: not flagged.
TEST(Comparison, BelowANightsUncertaintyDoesNotDiffer) {
  auto a = metric(12, "rev A", 15), b = metric(13, "rev B", 15, 20);
  for (auto* m : {&a, &b})
    for (auto& n : m->nights) n.uncertainty = 30;
  const Trend t = analysed({a, b}, against("rev A"));
  EXPECT_LT(t.comparisons.at(0).ranks.p, t.alpha);
  EXPECT_FALSE(t.comparisons[0].differs);
}

TEST(Comparison, UnknownBaselineIsAnError) { EXPECT_FALSE(analyse(History{{metric(5, "rev A", 20)}, {}, 20}, against("rev Z"))); }

// As often as the risk allows and no more: pairs of builds that are alike.
TEST(Comparison, FalseDifferencesKeepTheirShareOfTheRisk) {
  int differing = 0;
  constexpr int kPairs = 300;
  for (unsigned i = 0; i < kPairs; ++i) {
    Request request = against("rev A");
    request.caution.risk = 0.2;
    differing += analysed({metric(1000 + 2 * i, "rev A", 10), metric(1001 + 2 * i, "rev B", 10)}, request).differing() > 0;
  }
  EXPECT_LE(differing, kPairs * 0.2 + 4 * std::sqrt(kPairs * 0.2 * 0.8));
}

TEST(TrendJson, CarriesEveryNightAndTheDrift) {
  const auto j = nlohmann::json::parse(trend_json(analysed({metric(1, "rev A", 30, 0, 20)})));
  EXPECT_EQ(j["drifting"], 1);
  const auto& m = j["metrics"][0];
  EXPECT_EQ(m["nights"].size(), 30u);
  EXPECT_FALSE(m["nights"][13].contains("cusum_high"));
  EXPECT_TRUE(m["nights"][14].contains("cusum_high"));
  EXPECT_EQ(m["drift"]["flagged"]["started"], m["nights"][m["drift"]["flagged"]["night"].get<std::size_t>() - 1]["started"]);
  EXPECT_EQ(j["left_out"][0]["why"], "the run did not finish");
}

TEST(TrendPage, ShowsDriftPlotsAndWhatWasLeftOutAndEscapesNames) {
  auto evil = metric(1, "<script>", 30, 0, 20);
  const auto page = trend_html(analysed({evil}));
  EXPECT_NE(page.find("neutral: left mean began to rise"), std::string::npos);
  EXPECT_NE(page.find("id=\"m1-values\""), std::string::npos);
  EXPECT_NE(page.find("id=\"m1-sums\""), std::string::npos);
  EXPECT_NE(page.find("runs/x: the run did not finish"), std::string::npos);
  EXPECT_EQ(page.find("<script>"), std::string::npos);
  for (const char* outside : {"http://", "https://", "src="}) EXPECT_EQ(page.find(outside), std::string::npos) << outside;
}

TEST(TrendTable, KeepsToTheWidth) {
  report::TerminalStyle style;
  style.width = 60;
  const auto table = trend_table(analysed({metric(1, "rev A", 30, 0, 20), metric(2, "rev A", 5)}), style);
  std::istringstream lines(table);
  int rows = 0;
  for (std::string line; std::getline(lines, line);) {
    if (!line.starts_with("neutral: left mean ")) continue;
    ++rows;
    EXPECT_LE(report::columns(line), 60) << line;
  }
  EXPECT_EQ(rows, 2);
  EXPECT_NE(table.find("DRIFT: neutral: left mean"), std::string::npos);
  EXPECT_NE(table.find("left out: runs/x: the run did not finish"), std::string::npos);
}

TEST(TrendTable, NoNameAndNoUnitIsCut) {
  auto high = metric(1, "rev A", 30, 0, 20), low = metric(2, "rev A", 30, 0, 20);
  high.check = low.check = "signal-loss";
  high.measure = "time to safe, all inputs stuck high", low.measure = "time to safe, all inputs stuck low";
  high.unit = low.unit = "ms";
  for (int width = 20; width <= 100; ++width) {
    report::TerminalStyle style;
    style.width = width;
    const auto table = trend_table(analysed({high, low}), style);
    std::string joined;
    for (const char c : table) joined += c == '\n' ? ' ' : c;
    const std::string rows = joined.substr(0, joined.find("(metric,"));
    EXPECT_NE(rows.find("stuck high"), std::string::npos) << width << "\n" << table;
    EXPECT_NE(rows.find("stuck low"), std::string::npos) << width << "\n" << table;
    EXPECT_NE(rows.find(" ms "), std::string::npos) << width << "\n" << table;
    EXPECT_EQ(rows.find("…"), std::string::npos) << width << "\n" << table;
  }
}

}  // namespace
}  // namespace midstick::trend
