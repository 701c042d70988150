#include <gtest/gtest.h>
#include <rapidjson/document.h>
#include <rapidjson/error/en.h>
#include <rapidjson/schema.h>
#include <rapidjson/stringbuffer.h>

#include <algorithm>
#include <filesystem>
#include <limits>
#include <nlohmann/json.hpp>

#include "daemon/report/report_json.hpp"
#include "tests/report/world.hpp"

namespace midstick::report {
namespace {

using nlohmann::json;
using test::mower_world;

std::string schema_path() { return MIDSTICK_REPORT_SCHEMA; }

/// Empty when the text is valid against the published schema, else where and why not.
std::string schema_error(const std::string& text) {
  rapidjson::Document schema_text;
  schema_text.Parse(test::read_text(schema_path()).c_str());
  EXPECT_FALSE(schema_text.HasParseError());
  const rapidjson::SchemaDocument schema(schema_text);
  rapidjson::Document document;
  document.Parse(text.c_str());
  if (document.HasParseError()) return rapidjson::GetParseError_En(document.GetParseError());
  rapidjson::SchemaValidator validator(schema);
  if (document.Accept(validator)) return "";
  rapidjson::StringBuffer where;
  validator.GetInvalidDocumentPointer().StringifyUriFragment(where);
  return std::string(where.GetString()) + ": " + validator.GetInvalidSchemaKeyword();
}

json report(const test::World& world) { return json::parse(report_json(world.source())); }

TEST(ReportJson, IsValidAgainstThePublishedSchema) {
  EXPECT_EQ(schema_error(report_json(mower_world().source())), "");
  EXPECT_EQ(schema_error(report_json(test::empty_world().source())), "");
}

TEST(ReportJson, ATimeWhoseEndNeverCameHasNoValueThatATrendCouldTake) {
  const auto world = mower_world();
  const auto told = report(world);
  int found = 0;
  for (const auto& check : told["checks"]) {
    if (check["kind"] != "signal-loss") continue;
    for (const auto& m : {check, check["measures"][0]}) {
      ++found;
      EXPECT_TRUE(m["measured"].is_null()) << m;
      EXPECT_TRUE(m["uncertainty"].is_null()) << m;
      EXPECT_EQ(m["more_than"], 1180) << m;
      EXPECT_EQ(m["in_words"], "never safe within 1180.0 ms") << m;
    }
    EXPECT_EQ(check["measures"][0]["conformance_probability"], 0);
    EXPECT_FALSE(check["measures"][1].contains("more_than"));
  }
  EXPECT_EQ(found, 2);
}

TEST(ReportJson, SchemaIsSoundAndSatisfiedForAnOutsideValidatorToo) {
  const test::TempFolder folder;
  const std::string tests = MIDSTICK_REPORT_TESTS;
  ASSERT_TRUE(std::filesystem::exists(tests + "/node_modules/ajv"))
      << "ajv is missing: run scripts/test, which installs it (npm ci in tests/report)";
  const auto file = folder.write("report.json", report_json(mower_world().source()));
  const auto ran = test::run_command("node " + tests + "/validate.mjs " + schema_path() + " " + file);
  EXPECT_EQ(ran.exit_code, 0) << ran.output;
  const auto broken = folder.write("broken.json", "{}");
  EXPECT_EQ(test::run_command("node " + tests + "/validate.mjs " + schema_path() + " " + broken).exit_code, 1);
}

/// Every place in the document: each object member is required, so taking any away must make the document invalid.
void remove_each(json& root, json& node, const std::string& path) {
  if (node.is_array()) {
    for (std::size_t i = 0; i < node.size(); ++i) remove_each(root, node[i], path + "/" + std::to_string(i));
    return;
  }
  if (!node.is_object()) return;
  const json whole = node;
  for (const auto& [key, value] : whole.items()) {
    node.erase(key);
    EXPECT_NE(schema_error(root.dump()), "") << "without " << path << "/" << key;
    node[key] = value;
    remove_each(root, node[key], path + "/" + key);
  }
}

TEST(ReportJson, SchemaRefusesAReportWithAnyMemberMissing) {
  auto document = report(mower_world());
  auto& checks = document["checks"];
  const json loss = *std::find_if(checks.begin(), checks.end(), [](const json& c) { return c["kind"] == "signal-loss"; });
  checks.erase(checks.begin() + 2, checks.end());  // two checks show every member, but for those of a time that never came
  checks.push_back(loss);
  remove_each(document, document, "");
}

TEST(ReportJson, SchemaRefusesWhatItDoesNotKnow) {
  auto document = report(mower_world());
  document["checks"][0]["colour"] = "green";
  EXPECT_NE(schema_error(document.dump()), "");
  document = report(mower_world());
  document["verdict"] = "passed";
  EXPECT_NE(schema_error(document.dump()), "");
  document = report(mower_world());
  document["checks"][0]["measured"] = "1500";
  EXPECT_NE(schema_error(document.dump()), "");
}

TEST(ReportJson, CarriesTheBuildsLabel) {
  auto world = mower_world();
  EXPECT_EQ(report(world)["run"]["build"], "");
  world.facts.build = "rev B";
  EXPECT_EQ(report(world)["run"]["build"], "rev B");
}

TEST(ReportJson, CheckCarriesTheMeasureThatDecided) {
  const auto check = report(mower_world())["checks"][1];
  EXPECT_EQ(check["name"], "static-mix");
  EXPECT_EQ(check["verdict"], "fail");
  EXPECT_EQ(check["measured"], 250.31);
  EXPECT_EQ(check["limit"], (json{{"low", nullptr}, {"high", 8.0}}));
  EXPECT_EQ(check["uncertainty"], 0.3);
  EXPECT_EQ(check["unit"], "us");
  EXPECT_EQ(check["samples"], 169);
  EXPECT_EQ(check["measures"].size(), 2U);
}

TEST(ReportJson, CheckThatMeasuredNothingHasNullNotZero) {
  const auto check = report(mower_world())["checks"][4];
  EXPECT_EQ(check["verdict"], "inconclusive");
  for (const char* member : {"measured", "limit", "uncertainty", "unit"}) EXPECT_TRUE(check[member].is_null()) << member;
  EXPECT_EQ(check["samples"], 0);
}

TEST(ReportJson, SpansAreInTicksAndInMicrosecondsOfTrueTimeSinceTheStart) {
  auto world = mower_world();
  world.capture.begin = {1000};
  world.capture.clock.ns_per_tick = 62.4;
  world.result.checks[0].evidence[0].begin = {1000 + 16'000'000};
  const auto begin = report(world)["checks"][0]["evidence"][0]["begin"];
  EXPECT_EQ(begin["ticks"], 16'001'000);
  EXPECT_EQ(begin["us"], 998'400.0);
}

TEST(ReportJson, ClockSaysHowItIsKnownAndWhatTheHostsOwnIsWorth) {
  auto world = mower_world();
  EXPECT_EQ(report(world)["clock"]["facts"]["host_synchronised"], "virtual");
  world.capture.clock_facts->host = {false, clock::Synchronised::no, -17.25};
  const auto facts = report(world)["clock"]["facts"];
  EXPECT_EQ(facts["state"], "locked");
  EXPECT_LE(facts["hard_ppm"][0], 811.2);
  EXPECT_GE(facts["hard_ppm"][1], 812.9);
  EXPECT_EQ(facts["host_clock"], "raw");
  EXPECT_EQ(facts["host_synchronised"], "no");
  EXPECT_NEAR(facts["host_disciplined_ppm"].get<double>(), -17.25, 0.01);
  world.capture.clock_facts.reset();
  EXPECT_TRUE(report(world)["clock"]["facts"].is_null());
}

TEST(ReportJson, LinesCarryTheControllersNames) {
  const auto span = report(mower_world())["checks"][0]["evidence"][0];
  EXPECT_EQ(span["stimulus"], (json{"throttle", "steering"}));
  EXPECT_EQ(span["response"], (json{"left", "right"}));
}

TEST(ReportJson, BoardTimeOfACheckIsTheSumOfItsSegments) {
  auto world = mower_world();
  world.capture.clock.ns_per_tick = 62.5;
  world.capture.segments = {{1, 0, {0}, {16'000}, {}}, {0, 0, {16'000}, {17'000}, {}}, {1, 1, {17'000}, {33'000}, {}}};
  EXPECT_EQ(report(world)["checks"][1]["board_ms"], 2.0);
}

TEST(ReportJson, CausesComeRankedWithWordsAndReason) {
  const auto checks = report(mower_world())["checks"];
  ASSERT_EQ(checks[1]["causes"].size(), 2U);
  EXPECT_EQ(checks[1]["causes"][0], (json{{"id", "plain-clip"},
                                          {"text", "each side clipped alone, so steering is lost at speed"},
                                          {"fit", 0.9},
                                          {"reason", "explains all 169 readings within 8 us"}}));
  EXPECT_EQ(checks[3]["causes"], json::array());
}

TEST(ReportJson, SaysWhichCalibrationWasUsedOrWhyNot) {
  auto world = mower_world();
  EXPECT_EQ(report(world)["calibration"]["used"], false);
  EXPECT_EQ(report(world)["calibration"]["warning"], "");
  world.capture.calibration_note = "calibration x.json is not used: it was valid until 2020-01-01";
  EXPECT_EQ(report(world)["calibration"]["warning"], world.capture.calibration_note);
  EXPECT_EQ(schema_error(report_json(world.source())), "");
  world.capture.calibration.emplace();
  world.capture.calibration->board = "bench 2";
  world.capture.calibration->date = "2026-03-01T10:00:00Z";
  EXPECT_EQ(report(world)["calibration"]["valid_until"], "2027-03-01");
  EXPECT_EQ(schema_error(report_json(world.source())), "");
}

TEST(ReportJson, SaysWhereTheTimeWent) {
  auto world = mower_world();
  world.capture.clock.ns_per_tick = 62.5;
  world.capture.begin = {0}, world.capture.end = {64'000};
  world.capture.segments = {{1, 0, {0}, {16'000}, {}}, {0, 0, {16'000}, {32'000}, {}}, {1, 1, {32'000}, {48'000}, {}}};
  const auto time = report(world)["time"];
  EXPECT_EQ(time["board_ms"], 4.0);
  EXPECT_EQ(time["checks"][1], (json{{"name", "static-mix"}, {"board_ms", 2.0}, {"percent", 50.0}}));
  EXPECT_EQ(time["checks"][4]["percent"], 0.0);
  EXPECT_EQ(time["between_checks"], (json{{"board_ms", 1.0}, {"percent", 25.0}}));
}

TEST(ReportJson, ACheckThatWasNotRunSaysWhyAndIsNoVerdict) {
  const auto world = test::world_with_a_check_left_out();
  EXPECT_EQ(schema_error(report_json(world.source())), "");
  const auto checks = report(world)["checks"];
  EXPECT_EQ(checks[4]["verdict"], "not run");
  EXPECT_EQ(checks[4]["not_run"], "nobody is there to open a wire.");
  EXPECT_FALSE(checks[3].contains("not_run"));
}

TEST(ReportJson, TwoRunsDifferOnlyInWhenAndWhere) {
  auto first = mower_world();
  auto second = mower_world();
  second.facts = {"2027-01-01T00:00:00Z", "2027-01-01T00:04:00Z", "elsewhere", "/other"};
  second.plan.path = "/other/plan.json";
  second.capture.identity.bench_address = "virtual:/other/controller.json";
  auto a = report(first);
  auto b = report(second);
  EXPECT_NE(a, b);
  for (auto* document : {&a, &b}) {
    (*document)["run"].erase("when");
    (*document)["run"].erase("where");
  }
  EXPECT_EQ(a, b);
  EXPECT_EQ(a.dump(), b.dump());
}

TEST(ReportJson, NumbersThatAreNotNumbersAreNull) {
  auto world = mower_world();
  world.result.checks[0].measures[0].measured = std::numeric_limits<double>::quiet_NaN();
  world.result.checks[0].measures[0].limit_high = std::numeric_limits<double>::infinity();
  const auto text = report_json(world.source());
  EXPECT_EQ(schema_error(text), "");
  EXPECT_TRUE(json::parse(text)["checks"][0]["measured"].is_null());
  EXPECT_TRUE(json::parse(text)["checks"][0]["limit"]["high"].is_null());
  EXPECT_EQ(text.find("nan"), std::string::npos);
}

TEST(ReportJson, NumbersHaveNoNoiseDigits) {
  auto world = mower_world();
  world.result.checks[0].measures[0].measured = 0.1 + 0.2;
  EXPECT_NE(report_json(world.source()).find("\"measured\": 0.3,"), std::string::npos);
}

TEST(ReportJson, EventsTellLossesAndSumUpSupplyReadings) {
  const auto document = report(mower_world());
  EXPECT_EQ(document["supply"], (json{{"low_mv", 7398}, {"high_mv", 7412}, {"samples", 2}}));
  EXPECT_EQ(document["events"].size(), 3U);
  EXPECT_EQ(document["events"][1]["kind"], "edges_lost");
  const auto since = document["events"][1]["since"];
  EXPECT_NEAR(since["us"].get<double>(),
              since["ticks"].get<double>() * document["clock"]["ns_per_tick"].get<double>() / 1e3 - 1.6e6 / 16.012992, 0.001);
}

TEST(ReportJson, BrokenNamesStillGiveValidJson) {
  auto world = mower_world();
  world.plan.name = "a\xff\x01\"b";
  world.result.checks[0].summary = "\xC3";
  EXPECT_EQ(schema_error(report_json(world.source())), "");
}

}  // namespace
}  // namespace midstick::report
