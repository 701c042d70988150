// Each move of a stick script file, from JSON to pulse widths.
#include <gtest/gtest.h>

#include "daemon/script/percent.hpp"
#include "daemon/script/readers.hpp"

namespace midstick::script {
namespace {

using Sticks = std::map<std::string, double>;

StickSetting setting() {
  StickSetting out;
  out.spec.throttle = {.name = "throttle", .low_us = 1100, .centre_us = 1500, .high_us = 2000};
  out.spec.steering = {.name = "steering", .low_us = 1000, .centre_us = 1520, .high_us = 2000, .reversed = true};
  out.controller.name = "drive";
  out.controller.inputs = {{"throttle", "S1", 0, 0, 0}, {"steering", "S2", 1, 0, 0}, {"lamp", "S3", 2, 0, 0}};
  out.seed = 5;
  return out;
}

std::string file(const std::string& moves, const std::string& unit) {
  return R"({"format": "midstick sticks 1", "name": "s", "unit": ")" + unit + R"(", "moves": [)" + moves + "]}";
}

StickScript read(const std::string& moves, const std::string& unit = "percent", const StickSetting& with = setting()) {
  const auto checked = read_source(file(moves, unit), "f", FileKind::sticks);
  EXPECT_TRUE(checked) << checked.error().message;
  if (!checked) return {};
  const auto script = read_sticks(checked->source, &with);
  EXPECT_TRUE(script) << script.error().message;
  return script ? *script : StickScript{};
}

TEST(Percent, FollowsTheEndpointsOfTheSpec) {
  const auto s = setting().spec;
  EXPECT_DOUBLE_EQ(width_of_percent(s, "throttle", 100), 2000);
  EXPECT_DOUBLE_EQ(width_of_percent(s, "throttle", -50), 1300);
  EXPECT_DOUBLE_EQ(width_of_percent(s, "throttle", 150), 2250) << "over-travel goes on along the same line";
  EXPECT_DOUBLE_EQ(width_of_percent(s, "steering", 100), 1000) << "reversed";
  EXPECT_DOUBLE_EQ(width_of_percent(s, "steering", -100), 2000);
  EXPECT_DOUBLE_EQ(width_of_percent(s, "lamp", -100), 1000) << "an input that the spec does not name";
}

TEST(Moves, HoldStaysForItsTime) {
  const auto script = read(R"({"hold": {"throttle": 50, "steering": -100}, "for_ms": 500, "mark": "m"})");
  ASSERT_EQ(script.moves.size(), 1u);
  EXPECT_EQ(script.moves[0].kind, Move::Kind::hold);
  EXPECT_EQ(script.moves[0].for_ms, 500);
  EXPECT_EQ(script.moves[0].mark, "m");
  EXPECT_EQ(script.moves[0].from, (Sticks{{"throttle", 1750}, {"steering", 2000}, {"lamp", 1500}}));
}

TEST(Moves, InputNotNamedStaysWhereItWas) {
  const auto script =
      read(R"({"hold": {"throttle": 50}, "for_ms": 100}, {"hold": {"lamp": 100}, "for_ms": 100}, {"hold": {}, "for_ms": 100})");
  EXPECT_EQ(script.moves[1].from, (Sticks{{"throttle", 1750}, {"steering", 1520}, {"lamp", 2000}}));
  EXPECT_EQ(script.moves[2].from, script.moves[1].from);
}

TEST(Moves, MicrosecondsAreTakenAsTheyAre) {
  EXPECT_EQ(read(R"({"hold": {"throttle": 1234.5}, "for_ms": 100})", "us").moves[0].from.at("throttle"), 1234.5);
}

TEST(Moves, StepJumpsCountTimes) {
  const auto script = read(R"({"step": {"from": {"throttle": 0}, "to": {"throttle": 100}}, "count": 3, "hold_ms": 300})");
  const Move& move = script.moves[0];
  EXPECT_EQ(move.kind, Move::Kind::points);
  EXPECT_EQ(move.point_ms, 300);
  ASSERT_EQ(move.points.size(), 4u) << "three jumps lie between four positions";
  for (std::size_t i = 0; i < 4; ++i) EXPECT_EQ(move.points[i].at("throttle"), i % 2 ? 2000 : 1500) << i;
}

TEST(Moves, RampRunsFromOneEndToTheOther) {
  const auto script =
      read(R"({"ramp": {"from": {"throttle": -100}, "to": {"throttle": 100}}, "for_ms": 1000}, {"hold": {}, "for_ms": 100})");
  EXPECT_EQ(script.moves[0].kind, Move::Kind::ramp);
  EXPECT_EQ(script.moves[0].from.at("throttle"), 1100);
  EXPECT_EQ(script.moves[0].to.at("throttle"), 2000);
  EXPECT_EQ(script.moves[1].from.at("throttle"), 2000) << "the stick stays at the far end";
}

TEST(Moves, SineSwingsByHalfTheTravelAtOneHundredPercent) {
  const auto script = read(
      R"({"sine": {"around": {"throttle": 0}, "amplitude": {"throttle": 50, "steering": 50}}, "period_ms": 400, "for_ms": 500},
          {"hold": {}, "for_ms": 100})");
  const Move& move = script.moves[0];
  EXPECT_EQ(move.kind, Move::Kind::sine);
  EXPECT_EQ(move.period_ms, 400);
  EXPECT_DOUBLE_EQ(move.amplitude_us.at("throttle"), 225);
  EXPECT_DOUBLE_EQ(move.amplitude_us.at("steering"), -250) << "reversed swings the other way";
  EXPECT_NEAR(script.moves[1].from.at("throttle"), 1725, 1e-9) << "a quarter swing beyond the first period";
}

TEST(Moves, SweepIncludesBothEnds) {
  const auto script = read(R"({"sweep": {"from": {"throttle": -100}, "to": {"throttle": 100}}, "points": 4})");
  const Move& move = script.moves[0];
  EXPECT_EQ(move.point_ms, 400) << "the schema's default";
  ASSERT_EQ(move.points.size(), 4u);
  EXPECT_EQ(move.points[0].at("throttle"), 1100);
  EXPECT_DOUBLE_EQ(move.points[1].at("throttle"), 1400);
  EXPECT_EQ(move.points[3].at("throttle"), 2000);
}

TEST(Moves, GridHasEveryCombinationLastNameFastest) {
  const auto script = read(R"({"grid": {"throttle": [0, 100], "steering": [-100, 0, 100]}})");
  std::vector<std::pair<double, double>> got;
  for (const auto& point : script.moves[0].points) got.emplace_back(point.at("steering"), point.at("throttle"));
  EXPECT_EQ(got,
            (std::vector<std::pair<double, double>>{{2000, 1500}, {2000, 2000}, {1520, 1500}, {1520, 2000}, {1000, 1500}, {1000, 2000}}));
}

TEST(Moves, ListKeepsWhatAPointDoesNotName) {
  const auto script = read(R"({"list": [{"throttle": 100}, {"steering": 100}, {"throttle": 0}]})");
  const auto& points = script.moves[0].points;
  ASSERT_EQ(points.size(), 3u);
  EXPECT_EQ(points[1], (Sticks{{"throttle", 2000}, {"steering", 1000}, {"lamp", 1500}}));
  EXPECT_EQ(points[2].at("throttle"), 1500);
}

const char* const kRandom =
    R"({"random": {"low": {"throttle": -100, "steering": 0}, "high": {"throttle": 100, "steering": 0}}, "points": 200})";

TEST(Moves, RandomStaysInsideAndReachesAround) {
  double least = 1e9, most = 0;
  const StickScript script = read(kRandom);
  for (const auto& point : script.moves[0].points) {
    least = std::min(least, point.at("throttle"));
    most = std::max(most, point.at("throttle"));
    EXPECT_EQ(point.at("steering"), 1520);
  }
  EXPECT_GE(least, 1100);
  EXPECT_LE(most, 2000);
  EXPECT_GT(most - least, 800) << "200 draws that span less of 900 us are not uniform";
}

TEST(Moves, RandomIsTheSameUnderTheSameSeedOnly) {
  auto other = setting();
  other.seed = 6;
  EXPECT_EQ(read(kRandom).moves[0].points, read(kRandom).moves[0].points);
  EXPECT_NE(read(kRandom).moves[0].points, read(kRandom, "percent", other).moves[0].points);
  const auto twice = read(std::string(kRandom) + "," + kRandom);
  EXPECT_NE(twice.moves[0].points, twice.moves[1].points) << "each move draws its own";
}

TEST(Moves, RandomSeedOfItsOwnWinsOverThePlans) {
  std::string own = kRandom;
  own.insert(1, R"("seed": 9, )");
  auto other = setting();
  other.seed = 6;
  EXPECT_EQ(read(own).moves[0].points, read(own, "percent", other).moves[0].points);
}

TEST(Moves, FaultOnAllIsAFaultOnEachInput) {
  const auto script = read(
      R"({"hold": {}, "for_ms": 100, "faults": [{"input": "all", "fault": "drop"}, {"input": "lamp", "fault": "runt", "at_us": 8000}]})");
  const auto& faults = script.moves[0].faults;
  ASSERT_EQ(faults.size(), 4u);
  EXPECT_EQ(faults[0].input, "throttle");
  EXPECT_EQ(faults[2].fault, Fault::drop);
  EXPECT_EQ(faults[3].fault, Fault::runt);
  EXPECT_EQ(faults[3].at_us, 8000);
  EXPECT_EQ(faults[3].width_us, 20) << "the schema's default";
}

TEST(Moves, ActionsAreInOrder) {
  const auto script = read(R"({"hold": {}, "for_ms": 100, "actions": ["power_off", "power_on", "reset"]})");
  EXPECT_EQ(script.moves[0].actions, (std::vector{ActionKind::power_off, ActionKind::power_on, ActionKind::reset}));
}

TEST(Moves, FrameOfTheScriptWinsOverTheSettings) {
  auto with = setting();
  with.frame.period_us = 14000;
  EXPECT_EQ(read(R"({"hold": {}, "for_ms": 100})", "us", with).frame.period_us, 14000);
  const auto checked = read_source(
      R"({"format": "midstick sticks 1", "name": "s", "frame": {"period_us": 11000, "phase_us": {"lamp": 7}},
          "moves": [{"hold": {}, "for_ms": 100}]})",
      "f");
  ASSERT_TRUE(checked) << checked.error().message;
  const auto script = read_sticks(checked->source, &with);
  ASSERT_TRUE(script) << script.error().message;
  EXPECT_EQ(script->frame.period_us, 11000);
  EXPECT_EQ(script->frame.phase_us, (std::map<std::string, double>{{"lamp", 7}}));
}

}  // namespace
}  // namespace midstick::script
