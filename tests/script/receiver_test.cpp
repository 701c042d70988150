// Receivers by name, as the pulses they send.
#include <gtest/gtest.h>

#include <algorithm>
#include <nlohmann/json.hpp>

#include "daemon/script/receiver.hpp"
#include "daemon/script/schema_validator.hpp"
#include "daemon/script/schemas.hpp"
#include "tests/script/timelines.hpp"

namespace midstick::script {
namespace {

using namespace nlohmann::literals;

ReceiverScene scene() {
  ReceiverScene out;
  out.throttle = "throttle";
  out.sticks = {{"throttle", 1700}, {"steering", 1400}};
  out.preset = {{"throttle", 1500}, {"steering", 1500}};
  return out;
}

/// Widths in us that an input gets, frame by frame.
std::vector<int> widths(const std::string& name, double for_ms, std::uint8_t line) {
  StickScript script;
  script.name = name;
  auto moves = receiver_moves(name, scene(), for_ms);
  EXPECT_TRUE(moves) << name;
  if (!moves) return {};
  script.moves = *moves;
  const auto timeline = compile(script, two_inputs(), 1);
  EXPECT_TRUE(timeline) << timeline.error().message;
  std::vector<int> out;
  if (timeline)
    for (const Pulse& p : pulses(*timeline, line)) out.push_back(static_cast<int>(p.width / 1000));
  return out;
}

TEST(Receiver, EveryBehaviourPlaysForItsTimeAndIsMarkedByName) {
  for (const auto& behaviour : receiver_behaviours()) {
    const double for_ms = behaviour.least_ms + 1000;
    const auto moves = receiver_moves(behaviour.name, scene(), for_ms);
    ASSERT_TRUE(moves) << behaviour.name;
    double total = 0;
    for (const Move& move : *moves) {
      total += move.for_ms;
      EXPECT_TRUE(move.mark.starts_with(behaviour.name));
    }
    EXPECT_EQ(moves->front().mark.find(',') == std::string::npos || behaviour.state == ReceiverState::recovery, true) << behaviour.name;
    EXPECT_NEAR(total, for_ms, 20) << behaviour.name << ": to a frame";
    StickScript script;
    script.moves = *moves;
    EXPECT_TRUE(compile(script, two_inputs(), 1)) << behaviour.name;
    EXPECT_FALSE(receiver_moves(behaviour.name, scene(), behaviour.least_ms + 39)) << behaviour.name << ": too short";
  }
  EXPECT_FALSE(receiver_moves("unheard", scene(), 1000));
}

TEST(Receiver, SchemaOffersExactlyTheseNames) {
  std::vector<std::string> ours;
  for (const auto& behaviour : receiver_behaviours()) ours.emplace_back(behaviour.name);
  const nlohmann::json offered = schema(FileKind::sticks).at("/definitions/receiver/properties/receiver/enum"_json_pointer);
  EXPECT_EQ(offered.get<std::vector<std::string>>(), ours);
}

TEST(Receiver, LossesSendWhatTheyAreNamedFor) {
  const std::vector<int> none, last_t(50, 1700), last_s(50, 1400), centre(50, 1500);
  EXPECT_EQ(widths("silent", 1000, 0), none);
  EXPECT_EQ(widths("silent", 1000, 1), none);
  EXPECT_EQ(widths("hold_last", 1000, 0), last_t);
  EXPECT_EQ(widths("preset", 1000, 1), centre);
  EXPECT_EQ(widths("throttle_silent_others_hold", 1000, 0), none);
  EXPECT_EQ(widths("throttle_silent_others_hold", 1000, 1), last_s);
  EXPECT_EQ(widths("some_channels", 1000, 0), last_t);
  EXPECT_EQ(widths("some_channels", 1000, 1), none);
  EXPECT_EQ(widths("frozen_high", 1000, 0).size(), 1u) << "one endless high";
  EXPECT_GT(widths("frozen_high", 1000, 0)[0], 990000);
  EXPECT_EQ(widths("low_then_silent", 2500, 0), std::vector<int>(75, 800));
  EXPECT_EQ(widths("neutral_then_silent", 2500, 1), std::vector<int>(100, 1500));
  EXPECT_EQ(widths("all_880", 1000, 1), std::vector<int>(50, 880));
  EXPECT_EQ(widths("throttle_920", 1000, 0), std::vector<int>(50, 920));
  EXPECT_EQ(widths("throttle_920", 1000, 1), last_s);
}

TEST(Receiver, BootsSendWhatTheyAreNamedFor) {
  EXPECT_EQ(widths("one_junk_frame_then_silence", 1000, 0), std::vector<int>{2000});
  EXPECT_EQ(widths("one_low_frame_then_silence", 1000, 0), std::vector<int>{881});
  EXPECT_TRUE(widths("throttle_silent_until_link", 1000, 0).empty());
  EXPECT_EQ(widths("preset_before_link", 1000, 0), std::vector<int>(50, 1500));
  const auto noise = widths("noise_before_firmware", 1000, 0);
  EXPECT_GT(noise.size(), 100u);
  EXPECT_TRUE(std::ranges::all_of(noise, [](int us) { return us == 30; }));
}

TEST(Receiver, FlappingComesAndGoes) {
  const auto moves = receiver_moves("flapping", scene(), 3000);
  ASSERT_TRUE(moves);
  EXPECT_GT(moves->size(), 6u);
  const auto got = widths("flapping", 3000, 0);
  EXPECT_GT(got.size(), 10u);
  EXPECT_LT(got.size(), 60u);
}

TEST(Relay, LineIsHighFromMoveToMove) {
  ControllerDescription controller = two_inputs();
  controller.relays = {{"ground", "S6", 5}};
  Move rest;
  rest.for_ms = 50;
  Move open = rest;
  open.faults = {{.input = "ground", .fault = Fault::stuck_high}};
  StickScript script;
  script.moves = {rest, open, open, rest, open};
  const auto timeline = compile(script, controller, 1);
  ASSERT_TRUE(timeline) << timeline.error().message;
  EXPECT_EQ(pulses(*timeline, 5), (std::vector<Pulse>{{50'000'000, 100'000'000}, {200'000'000, 50'000'000}}));
  script.moves[1].faults[0].fault = Fault::drop;
  EXPECT_NE(compile(script, controller, 1).error().message.find("on the relay ground; expected stuck_high"), std::string::npos);
}

}  // namespace
}  // namespace midstick::script
