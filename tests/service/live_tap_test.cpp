#include "daemon/service/live_tap.hpp"

#include <gtest/gtest.h>

#include <nlohmann/json.hpp>

namespace midstick::service {
namespace {

using nlohmann::json;

constexpr std::int64_t kMs = 16'000;  // ticks

/// A board whose clock is exact, one stick on S1, one output on R1.
struct Scene {
  std::vector<link::StimulusEdge> stimulus;
  std::vector<capture::Edge> response;
  clock::ClockMap clock;
  script::ControllerDescription controller;
  LiveTap tap{"desk", 7};
  LiveTap::Clock::time_point now{};

  Scene() {
    controller.inputs = {{"throttle", "S1", 0}};
    controller.outputs = {{"left", "R1", 0}};
  }
  void frame(std::int64_t at_ms, std::int64_t stick_us, std::int64_t out_us) {
    stimulus.push_back({BoardTime{at_ms * kMs}, 0, true}), stimulus.push_back({BoardTime{at_ms * kMs + stick_us * 16}, 0, false});
    if (out_us == 0) return;
    const std::int64_t rise = (at_ms + 3) * kMs;
    response.push_back({BoardTime{rise}, 0, true}), response.push_back({BoardTime{rise + out_us * 16}, 0, false});
  }
  std::optional<json> look(std::int64_t board_ms) {
    const engine::Glimpse glimpse{BoardTime{0}, BoardTime{board_ms * kMs}, stimulus, response, clock};
    const auto text = tap.message({"neutral", 1, 2, static_cast<double>(board_ms), 1000, glimpse, controller}, now);
    return text ? std::optional(json::parse(*text)) : std::nullopt;
  }
};

TEST(LiveTap, TellsTheNewestWidthAndThePulsesSinceTheMessageBefore) {
  Scene s;
  s.frame(0, 1500, 1498);
  s.frame(20, 1600, 1601);
  auto m = s.look(40);
  ASSERT_TRUE(m);
  EXPECT_EQ((*m)["lines"][0]["us"], 1600.0);
  EXPECT_EQ((*m)["lines"][1]["name"], "left");
  EXPECT_EQ((*m)["lines"][1]["us"], 1601.0);
  EXPECT_EQ((*m)["lines"][1]["pulses"], json::array({{3.0, 1498.0}, {23.0, 1601.0}}));
  s.now += LiveTap::kEvery;
  s.frame(40, 1500, 1500);
  EXPECT_EQ((*s.look(60))["lines"][1]["pulses"].size(), 1u);
}

TEST(LiveTap, IsQuietUntilItsTimeHasCome) {
  Scene s;
  s.frame(0, 1500, 1500);
  EXPECT_TRUE(s.look(10));
  s.now += LiveTap::kEvery - std::chrono::milliseconds(1);
  EXPECT_FALSE(s.look(20));
  s.now += std::chrono::milliseconds(1);
  EXPECT_TRUE(s.look(30));
}

TEST(LiveTap, StimulusThatIsStillToComeIsNotShown) {
  Scene s;
  s.frame(0, 1500, 0);
  s.frame(500, 2000, 0);
  EXPECT_EQ((*s.look(20))["lines"][0]["us"], 1500.0);
}

TEST(LiveTap, ASilentLineHasNoWidth) {
  Scene s;
  s.frame(0, 1500, 1500);
  EXPECT_TRUE((*s.look(200))["lines"][1]["us"].is_null());
}

TEST(LiveTap, OfTooManyPulsesTheNewestStay) {
  Scene s;
  for (int i = 0; i < 100; ++i) s.frame(20 * i, 1500, 1000 + i);
  const auto m = s.look(2000);
  const json& pulses = (*m)["lines"][1]["pulses"];
  ASSERT_EQ(pulses.size(), LiveTap::kMostPulses);
  EXPECT_EQ(pulses.back()[1], 1099.0);
}

}  // namespace
}  // namespace midstick::service
