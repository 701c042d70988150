// A receiver recorded on the virtual bench and played again: stimulus lines looped to the capture lines play the receiver.
#include <gtest/gtest.h>

#include <map>

#include "daemon/script/receiver.hpp"
#include "tests/e2e/played_receiver.hpp"

namespace midstick::e2e {
namespace {

using script::Move;
using Sticks = std::map<std::string, double>;

constexpr double kSeconds = 24;

Move hold(Sticks sticks, double ms) {
  Move move;
  move.from = std::move(sticks);
  move.for_ms = ms;
  return move;
}

/// A person who does at once what each step asks, at a receiver that sends 800 us and then nothing when its link is lost.
script::StickScript person() {
  const Sticks centre{{"throttle", 1510}, {"steering", 1490}}, held{{"throttle", 1740}, {"steering", 1350}};
  script::StickScript out;
  out.frame.period_us = 20000;
  out.frame.order = script::ReceiverFrame::Order::reversed;
  const auto ms = [](int step) { return kSeconds * 1e3 * engine::kRecordSteps[step].share; };
  out.moves.push_back(hold(centre, ms(0)));
  Move to_low = hold(centre, ms(1) / 2), to_high = to_low;
  to_low.kind = to_high.kind = Move::Kind::ramp;
  to_low.to = {{"throttle", 1050}, {"steering", 1150}};
  to_high.from = to_low.to, to_high.to = {{"throttle", 1950}, {"steering", 1850}};
  to_high.for_ms -= 400;  // the board plays all of it 100 ms late: the end is held, as a person does
  out.moves.push_back(to_low), out.moves.push_back(to_high);
  out.moves.push_back(hold(to_high.to, 400));
  out.moves.push_back(hold(held, ms(2)));
  script::ReceiverScene scene;
  scene.throttle = "throttle", scene.sticks = held, scene.preset = centre;
  const auto lost = script::receiver_moves("low_then_silent", scene, ms(3));
  out.moves.insert(out.moves.end(), lost.value().begin(), lost.value().end());
  out.moves.push_back(hold(held, ms(4)));
  return out;
}

engine::ReceiverFinding recorded(const script::StickScript& receiver) {
  const auto capture = listened(receiver, kSeconds, engine::kRecordSteps);
  EXPECT_TRUE(capture) << capture.error().message;
  mixer::MixerSpec spec;
  spec.throttle.name = "throttle", spec.steering.name = "steering";
  auto finding = engine::study(*capture, {"throttle", "steering"}, spec, "recorded");
  EXPECT_TRUE(finding) << finding.error().message;
  return finding ? finding.take() : engine::ReceiverFinding{};
}

TEST(Record, ReceiverOnTheBenchIsFoundAsItIsAndItsScriptPlays) {
  const auto f = recorded(person());
  ASSERT_EQ(f.channels.size(), 2u);
  EXPECT_NEAR(f.period_us, 20000, 0.5);
  EXPECT_EQ(f.order, script::ReceiverFrame::Order::reversed);
  EXPECT_EQ(f.loss, "low_then_silent");
  EXPECT_EQ(f.recovery, "instant");
  const double expected[2][3] = {{1050, 1510, 1950}, {1150, 1490, 1850}};
  for (std::size_t c = 0; c < 2; ++c) {
    EXPECT_NEAR(f.channels[c].low_us, expected[c][0], 3) << "a ramp passes its end in one frame";
    EXPECT_NEAR(f.channels[c].centre_us, expected[c][1], 0.5);
    EXPECT_NEAR(f.channels[c].high_us, expected[c][2], 3);
  }
  const auto again = script::compile(f.script, receiver_wires(), 1);
  ASSERT_TRUE(again) << again.error().message;
  // The script's travel, frame by frame, is what was sent.
  double low = 1e9, high = 0;
  for (const auto& point : f.script.moves[1].points) low = std::min(low, point.at("throttle")), high = std::max(high, point.at("throttle"));
  EXPECT_NEAR(low, 1050, 3);
  EXPECT_NEAR(high, 1950, 3);
}

}  // namespace
}  // namespace midstick::e2e
