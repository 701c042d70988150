#include "daemon/service/verdict_rows.hpp"

#include <gtest/gtest.h>

#include <nlohmann/json.hpp>

namespace midstick::service {
namespace {

using nlohmann::json;

json check(const char* name, const char* verdict, const char* cause = "") {
  json causes = json::array();
  if (*cause) causes.push_back({{"id", "an-id"}, {"text", cause}, {"fit", 1}, {"reason", ""}});
  const json measure{{"name", "worst"}, {"measured", 12.5}, {"uncertainty", 0.3}, {"unit", "us"}, {"samples", 40}};
  return {{"name", name}, {"kind", name}, {"verdict", verdict}, {"summary", "said"}, {"causes", causes}, {"measures", {measure}}};
}

json report(const char* verdict, std::vector<json> checks) { return {{"verdict", verdict}, {"summary", "in short."}, {"checks", checks}}; }

const Earlier kNone = [](const std::string&) { return std::vector<std::string>{}; };
const Earlier kFlaky = [](const std::string&) { return std::vector<std::string>{"pass", "fail", "pass", "fail"}; };

TEST(VerdictRows, HoldEveryCheckAndItsMeasures) {
  const auto rows = rows_of(report("fail", {check("neutral", "pass"), check("static-mix", "fail", "clip")}).dump(), kNone);
  ASSERT_TRUE(rows.ok());
  EXPECT_EQ(rows->verdict, "fail");
  EXPECT_EQ(rows->cause, "clip");
  EXPECT_EQ(rows->failed, 1);
  ASSERT_EQ(rows->metrics.size(), 2u);
  EXPECT_EQ(rows->metrics[1].name, "static-mix: worst");
  EXPECT_EQ(rows->metrics[1].uncertainty, 0.3);
}

TEST(VerdictRows, WhatWasNotMeasuredIsNoMetric) {
  json c = check("neutral", "inconclusive");
  c["measures"][0]["measured"] = nullptr;
  EXPECT_TRUE(rows_of(report("inconclusive", {c}).dump(), kNone)->metrics.empty());
}

TEST(VerdictRows, AQuarantinedFailureMakesTheRunInconclusiveAndSaysSo) {
  const auto rows = rows_of(report("fail", {check("neutral", "pass"), check("static-mix", "fail", "clip")}).dump(), kFlaky);
  ASSERT_TRUE(rows.ok());
  EXPECT_TRUE(rows->checks[1].quarantined);
  EXPECT_EQ(rows->verdict, "inconclusive");
  EXPECT_NE(rows->summary.find("quarantined"), std::string::npos);
}

TEST(VerdictRows, ASafetyCheckDecidesHoweverFlaky) {
  EXPECT_EQ(rows_of(report("fail", {check("signal-loss", "fail")}).dump(), kFlaky)->verdict, "fail");
}

TEST(VerdictRows, AQuarantineNeverMakesAnInconclusiveReportPass) {
  EXPECT_EQ(rows_of(report("inconclusive", {check("neutral", "pass")}).dump(), kNone)->verdict, "inconclusive");
}

TEST(VerdictRows, SomethingElseIsAnError) {
  EXPECT_FALSE(rows_of("{}", kNone).ok());
  EXPECT_FALSE(rows_of("not json", kNone).ok());
}

}  // namespace
}  // namespace midstick::service
