// Faults on a line that hang on time or chance: cut, storm, drawn places, a share of the frames. Times are ns.
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>

#include "tests/script/timelines.hpp"

namespace midstick::script {
namespace {

using Pulses = std::vector<Pulse>;

Move faulty(double ms, std::vector<ChannelFault> faults, double width_us = 1600) {
  Move move;
  move.for_ms = ms;
  move.from = {{"throttle", width_us}};
  move.faults = std::move(faults);
  return move;
}

Timeline played(std::vector<Move> moves, std::uint64_t seed = 1) { return script::played(script_of(std::move(moves)), seed); }

std::string refusal(ChannelFault fault, double width_us = 1600) {
  return script::refusal(script_of({faulty(20, {std::move(fault)}, width_us)}));
}

std::string refusal(std::vector<ChannelFault> faults) {
  const auto timeline = compile(script_of({faulty(20, std::move(faults))}), two_inputs(), 1);
  EXPECT_FALSE(timeline);
  return timeline ? "" : timeline.error().message;
}

const ChannelFault kCut{.input = "throttle", .fault = Fault::cut, .at_us = 700};
const ChannelFault kStorm{.input = "throttle", .fault = Fault::storm, .at_us = 5000, .width_us = 25, .for_us = 200};

TEST(Cut, EndsThePulseEarlyAndLeavesTheLineLowToTheEndOfTheMove) {
  Move cut = faulty(60, {kCut});
  cut.mark = "cut";
  const auto timeline = played({faulty(20, {}), cut, faulty(20, {})});
  EXPECT_EQ(pulses(timeline, 0), (Pulses{{200'000, 1'600'000}, {20'200'000, 700'000}, {80'200'000, 1'600'000}}));
  EXPECT_EQ(pulses(timeline, 1).size(), 5u);
  EXPECT_TRUE(std::isnan(timeline.marks[0].values[0]));
}

TEST(Cut, EachMoveCutsAPulseOfItsOwn) {
  EXPECT_EQ(pulses(played({faulty(40, {kCut}), faulty(40, {kCut})}), 0), (Pulses{{200'000, 700'000}, {40'200'000, 700'000}}));
}

TEST(Cut, MustFallInsideThePulse) {
  ChannelFault late = kCut;
  late.at_us = 1600;
  EXPECT_NE(refusal(late).find("found a cut on throttle at 1600 us after its rise; expected it inside the pulse"), std::string::npos);
  late.at_us = 1599;
  EXPECT_EQ(pulses(played({faulty(20, {late})}), 0), (Pulses{{200'000, 1'599'000}}));
  late.at_us = 700;
  late.at_to_us = 1700;
  EXPECT_NE(refusal(late).find("at 1700 us"), std::string::npos) << "the last place counts";
}

TEST(Storm, IsATrainOfHighsAndLowsAfterThePulse) {
  const auto got = pulses(played({faulty(20, {kStorm})}), 0);
  ASSERT_EQ(got.size(), 5u) << "the pulse, and 4 highs of 25 us in 200 us";
  EXPECT_EQ(got[0], (Pulse{200'000, 1'600'000}));
  for (std::size_t i = 1; i < 5; ++i) EXPECT_EQ(got[i], (Pulse{5'150'000 + 50'000 * static_cast<std::int64_t>(i), 25'000}));
}

TEST(Storm, NeedsLevelsThatTheBenchRecordsAndRoomInTheGap) {
  ChannelFault storm = kStorm;
  storm.width_us = 19.9;
  EXPECT_NE(refusal(storm).find("found the width of a storm's levels of 19.9 us; expected 20 to"), std::string::npos);
  storm = kStorm;
  storm.at_us = 1500;
  EXPECT_NE(refusal(storm).find("found a storm on throttle at 1500 us after its rise; expected it in the gap after the pulse"),
            std::string::npos);
  storm = kStorm;
  storm.for_us = 15000;
  EXPECT_NE(refusal(storm).find("found a storm on throttle that ends 20176 us after"), std::string::npos);
  storm.for_us = 10;
  EXPECT_NE(refusal(storm).find("found the length of a storm of 10 us; expected 25 to"), std::string::npos);
}

TEST(DrawnPlace, IsUniformBetweenItsEndsInEachFrame) {
  const auto got =
      pulses(played({faulty(4000, {{.input = "throttle", .fault = Fault::runt, .at_us = 3000, .width_us = 50, .at_to_us = 9000}})}), 0);
  ASSERT_EQ(got.size(), 400u);
  double least = 1e9, most = 0, sum = 0;
  for (std::size_t i = 0; i < 400; i += 2) {
    const double at = static_cast<double>(got[i + 1].rise - got[i].rise) / 1e3;
    EXPECT_EQ(got[i + 1].width, 50'000);
    least = std::min(least, at);
    most = std::max(most, at);
    sum += at;
  }
  EXPECT_GE(least, 3000);
  EXPECT_LT(least, 3500);
  EXPECT_GT(most, 8500);
  EXPECT_LE(most, 9000);
  EXPECT_NEAR(sum / 200, 6000, 500) << "a mean of 200 draws has a deviation of 122 us";
}

TEST(DrawnPlace, LastPlaceMustFitToo) {
  EXPECT_NE(refusal({.input = "throttle", .fault = Fault::runt, .at_us = 3000, .at_to_us = 19800}).find("that ends 20021"),
            std::string::npos);
  EXPECT_NE(refusal({.input = "throttle", .fault = Fault::notch, .at_us = 300, .at_to_us = 1590}).find("inside the pulse"),
            std::string::npos);
  const ChannelFault early{.input = "throttle", .fault = Fault::runt, .at_us = 3000, .at_to_us = 6000};
  ChannelFault later = early;
  later.at_us = 5000;
  EXPECT_NE(refusal({early, later}).find("clear of any other"), std::string::npos);
}

TEST(Share, IsTheShareOfFramesThatTheFaultHappensIn) {
  const auto got = pulses(played({faulty(20000, {{.input = "throttle", .fault = Fault::drop, .share = 0.3}})}), 0);
  EXPECT_NEAR(static_cast<double>(got.size()), 700, 60) << "of 1000 frames; 60 is four deviations";
  EXPECT_EQ(pulses(played({faulty(200, {{.input = "throttle", .fault = Fault::drop, .share = 0}})}), 0).size(), 10u);
}

TEST(Share, MarkSaysWhatTheSticksSayWherePulsesComeNowAndThen) {
  Move rare = faulty(200, {{.input = "throttle", .fault = Fault::drop, .share = 0.5}});
  rare.mark = "rare";
  EXPECT_EQ(played({rare}).marks[0].values[0], 1600);
}

TEST(Share, FrameThatIsStuckHighFallsAGapBeforeTheNextGoodOne) {
  const auto got = pulses(played({faulty(2000, {{.input = "throttle", .fault = Fault::stuck_high, .share = 0.2}})}), 0);
  std::size_t stuck = 0;
  for (const Pulse& pulse : got) {
    if (pulse.width == 1'600'000) continue;
    ++stuck;
    EXPECT_EQ((pulse.rise + pulse.width) % 20'000'000, 19'800'000);
  }
  EXPECT_GT(stuck, 5u);
}

TEST(Share, NotchHasNoPlaceInAFrameWhosePulseIsDropped) {
  const auto got = pulses(played({faulty(4000, {{.input = "throttle", .fault = Fault::drop, .share = 0.5},
                                                {.input = "throttle", .fault = Fault::notch, .at_us = 700, .width_us = 30}})}),
                          0);
  EXPECT_GT(got.size(), 140u);
  EXPECT_EQ(got.size() % 2, 0u);
  for (std::size_t i = 0; i < got.size(); i += 2) EXPECT_EQ(got[i].width, 700'000);
}

TEST(Share, OneFaultMovesNoDrawOfAnother) {
  const ChannelFault runt{.input = "throttle", .fault = Fault::runt, .at_us = 3000, .width_us = 50, .at_to_us = 9000, .share = 0.4};
  const ChannelFault other{.input = "steering", .fault = Fault::drop, .share = 0.5};
  const ChannelFault notch{.input = "throttle", .fault = Fault::notch, .at_us = 600, .width_us = 30, .share = 0.5};
  const auto runts = [](const Timeline& timeline) {
    auto got = pulses(timeline, 0);
    std::erase_if(got, [](const Pulse& p) { return p.width != 50'000; });
    return got;
  };
  const auto alone = runts(played({faulty(2000, {runt})}));
  EXPECT_GT(alone.size(), 20u);
  EXPECT_EQ(runts(played({faulty(2000, {other, notch, runt})})), alone);
  EXPECT_NE(runts(played({faulty(2000, {runt})}, 2)), alone) << "the seed counts";
}

TEST(Share, OutsideZeroToOneIsRefused) {
  EXPECT_NE(refusal({.input = "throttle", .fault = Fault::drop, .share = 1.1}).find("found a share of frames of 1.1"), std::string::npos);
  EXPECT_NE(refusal({.input = "throttle", .fault = Fault::drop, .share = NAN}).find("found a share of frames of nan"), std::string::npos);
}

TEST(LineFaults, ThatExcludeOneAnotherAreRefused) {
  ChannelFault runt{.input = "throttle", .fault = Fault::runt};
  EXPECT_NE(refusal({kCut, {.input = "throttle", .fault = Fault::drop}}).find("found two of drop, stuck_low, stuck_high and cut"),
            std::string::npos);
  EXPECT_NE(refusal({kCut, runt}).find("found a runt on throttle, whose pulse is cut"), std::string::npos);
  EXPECT_NE(refusal({kStorm, {.input = "throttle", .fault = Fault::stuck_high}}).find("found a storm on throttle, whose line is stuck"),
            std::string::npos);
}

}  // namespace
}  // namespace midstick::script
