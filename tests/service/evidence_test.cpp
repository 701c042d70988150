// Slices of a run that was really played, on the virtual bench.
#include "daemon/service/evidence.hpp"

#include <gtest/gtest.h>
#include <unistd.h>

#include <algorithm>
#include <nlohmann/json.hpp>

#include "daemon/engine/run.hpp"

namespace midstick::service {
namespace {

using nlohmann::json;
namespace fs = std::filesystem;

class PlayedOnce : public ::testing::Test {
 protected:
  static void SetUpTestSuite() {
    folder_ = fs::path(::testing::TempDir()) / ("evidence-" + std::to_string(::getpid()));
    engine::RunRequest request;
    request.plan = fs::path(MIDSTICK_SOURCE) / "fixtures/mower/nightly.json";
    request.bench = "virtual:" + (fs::path(MIDSTICK_SOURCE) / "fixtures/mower/controller.json").string();
    request.only = {"neutral"};
    request.out = folder_;
    const std::atomic<bool> go_on{false};
    const auto outcome = engine::run(request, go_on);
    ASSERT_TRUE(outcome.ok()) << outcome.error().message;
    ASSERT_EQ(outcome->result.checks.size(), 1u) << "only the one that was asked for is played and judged";
  }
  static void TearDownTestSuite() { fs::remove_all(folder_); }
  json slice(Slice s) {
    const auto evidence = evidence_.of(folder_);
    EXPECT_TRUE(evidence.ok()) << evidence.error().message;
    return pulses_answer(**evidence, 5, s);
  }
  static json line(const json& answer, const std::string& name) {
    for (const json& l : answer["lines"])
      if (l["name"] == name) return l;
    return {};
  }
  static inline fs::path folder_;
  Evidence evidence_;
};

TEST_F(PlayedOnce, ASliceHoldsThePulsesOfItsTimeAndNoOthers) {
  const json whole = slice({});
  const double middle = whole["total_ms"].get<double>() / 2;
  const json part = slice({middle, middle + 500});
  for (const char* name : {"throttle", "steering", "left", "right"}) {
    const json all = line(whole, name)["pulses"], some = line(part, name)["pulses"];
    EXPECT_GE(some.size(), 20u) << name;
    EXPECT_LT(some.size(), 30u) << name;
    for (const json& p : some) {
      EXPECT_GE(p[0].get<double>(), middle - 1e-3);
      EXPECT_LE(p[0].get<double>(), middle + 500);
      EXPECT_TRUE(std::ranges::find(all, p) != all.end()) << p.dump();
    }
  }
}

TEST_F(PlayedOnce, ThinningKeepsTheNarrowestAndTheWidest) {
  const json all = line(slice({}), "left")["pulses"], few = line(slice({0, 1e12, 10}), "left")["pulses"];
  EXPECT_TRUE(line(slice({0, 1e12, 10}), "left")["thinned"]);
  EXPECT_LE(few.size(), 10u);
  const auto by_width = [](const json& a, const json& b) { return a[1] < b[1]; };
  EXPECT_EQ((*std::ranges::min_element(few, by_width))[1], (*std::ranges::min_element(all, by_width))[1]);
  EXPECT_EQ((*std::ranges::max_element(few, by_width))[1], (*std::ranges::max_element(all, by_width))[1]);
}

TEST_F(PlayedOnce, SilencesAreTheGapsBetweenPulsesAndNotThoseThatThinningLeaves) {
  const json whole = slice({}), few = slice({0, 1e12, 10});
  for (const char* name : {"throttle", "steering", "left", "right"}) {
    ASSERT_FALSE(line(whole, name)["thinned"]);
    const json pulses = line(whole, name)["pulses"];
    json gaps = json::array();
    double last = 0;
    for (const json& p : pulses) {
      if (p[0].get<double>() - last > 100) gaps.push_back({last, p[0]});
      last = p[0];
    }
    if (whole["total_ms"].get<double>() - last > 100) gaps.push_back({last, line(whole, name)["silent"].back()[1]});
    EXPECT_EQ(line(whole, name)["silent"], gaps) << name;
    EXPECT_EQ(line(few, name)["silent"], gaps) << name;
  }
  EXPECT_FALSE(line(few, "left")["silent"].empty()) << "it has no power at first";
  const double middle = whole["total_ms"].get<double>() / 2;
  EXPECT_TRUE(line(slice({middle, middle + 500}), "left")["silent"].empty());
}

TEST_F(PlayedOnce, TheBandHoldsTheToleranceOfTheCheckThatIsPlayed) {
  const json whole = slice({});
  ASSERT_EQ(whole["segments"][0]["tolerance_us"], 15) << "what neutral lets a single width be off";
  for (const json& side : whole["expected"])
    for (const json& b : side["band"]) EXPECT_GE(b[2].get<double>() - b[1].get<double>(), 30);
}

TEST_F(PlayedOnce, ACorrectControllersPulsesLieInTheBand) {
  const json whole = slice({});
  const json& segment = whole["segments"][0];
  const json part = slice({segment["from_ms"].get<double>(), segment["to_ms"].get<double>()});
  std::size_t held = 0;
  for (const json& side : part["expected"]) {
    const json pulses = line(part, side["name"])["pulses"];
    for (const json& b : side["band"]) {
      const auto p = std::ranges::find_if(pulses, [&](const json& q) { return q[0] == b[0]; });
      ASSERT_NE(p, pulses.end());
      EXPECT_GE((*p)[1].get<double>(), b[1].get<double>());
      EXPECT_LE((*p)[1].get<double>(), b[2].get<double>());
      ++held;
    }
  }
  EXPECT_GT(held, 100u);
}

TEST_F(PlayedOnce, TheEscIsArmedByTheEnd) {
  const json whole = slice({});
  ASSERT_EQ(whole["esc"].size(), 2u);
  for (const json& lane : whole["esc"]) EXPECT_GE(lane["states"].size(), 2u) << lane.dump();
}

TEST_F(PlayedOnce, ARunWithoutItsCaptureIsSaid) { EXPECT_FALSE(evidence_.of(folder_ / "nothing").ok()); }

}  // namespace
}  // namespace midstick::service
