// The correct controller's image on an emulated chip: what it must do, seen from its pins.
#include <gtest/gtest.h>

#include <algorithm>

#include "tests/controllers/emulated_drive.hpp"

namespace midstick::controllers {
namespace {

double mean_us(const std::vector<Pulse>& pulses) {
  double sum = 0;
  for (const Pulse& pulse : pulses) sum += pulse.width_us;
  return sum / static_cast<double>(pulses.size());
}

class CorrectImage : public testing::Test {
 protected:
  void SetUp() override { ASSERT_TRUE(drive.ok()) << image_path("correct"); }
  void drive_ahead() {
    drive.arm();
    drive.throttle.width_us = 1900;
    drive.run_ms(200);
    ASSERT_GT(drive.last_left(), 1850);
  }
  /// Both outputs' pulses are all of this width, and there are some.
  void expect_all(double width_us, double within_us = 0.2) {
    for (const auto* pulses : {&drive.left(), &drive.right()}) {
      EXPECT_GT(pulses->size(), 2u);
      for (const Pulse& pulse : *pulses) EXPECT_NEAR(pulse.width_us, width_us, within_us);
    }
  }
  EmulatedDrive drive{image_path("correct")};
};

TEST_F(CorrectImage, FirstPulseComesAtOnceAndIsNeutral) {
  drive.watch_ms(10);
  ASSERT_EQ(drive.left().size(), 1u);
  ASSERT_EQ(drive.right().size(), 1u);
  EXPECT_NEAR(drive.left()[0].width_us, 1500, 0.2);
  EXPECT_NEAR(drive.right()[0].width_us, 1500, 0.2);
}

TEST_F(CorrectImage, OutputsStayNeutralForEverWithoutAReceiver) {
  drive.throttle.width_us = drive.steering.width_us = std::nullopt;
  drive.watch_ms(3000);
  expect_all(1500);
}

TEST_F(CorrectImage, OutputsStayNeutralForEverWithAStickHeldAtBoot) {
  drive.throttle.width_us = 2000;
  drive.watch_ms(3000);
  expect_all(1500);
}

TEST_F(CorrectImage, ArmsAtNeutralThenFollows) {
  drive.arm();
  drive.throttle.width_us = 1750;
  drive.steering.width_us = 1600;
  drive.run_ms(100);
  // (250 - 20) and (100 - 20), times 500/480.
  EXPECT_NEAR(drive.last_left(), 1500 + 239.6 + 83.3, 3);
  EXPECT_NEAR(drive.last_right(), 1500 + 239.6 - 83.3, 3);
}

TEST_F(CorrectImage, FrameIsJustUnder20MsAndNeverVaries) {
  drive.run_ms(100);
  drive.watch_ms(5000);
  const auto& pulses = drive.left();
  ASSERT_GT(pulses.size(), 250u);
  for (std::size_t i = 1; i < pulses.size(); ++i) EXPECT_NEAR(static_cast<double>(pulses[i].rise - pulses[i - 1].rise) / 16, 19660.8, 0.8);
  // Five frames are three rounds of the counter to the tick, or the pulses would creep towards its wrap.
  for (std::size_t i = 5; i < pulses.size(); ++i)
    EXPECT_NEAR(static_cast<double>(pulses[i].rise - pulses[i - 5].rise) / 16, 3 * 32768, 0.2);
}

TEST_F(CorrectImage, BothPulsesOfAFrameRiseTogether) {
  drive.run_ms(100);
  drive.watch_ms(500);
  ASSERT_EQ(drive.left().size(), drive.right().size());
  for (std::size_t i = 0; i < drive.left().size(); ++i)
    EXPECT_NEAR(static_cast<double>(drive.left()[i].rise), static_cast<double>(drive.right()[i].rise), 4);
}

TEST_F(CorrectImage, NoPulseIsEverTornOrDoubledWhateverItsWidth) {
  drive.arm();
  drive.watch_ms(0);
  for (int throttle = 1000; throttle <= 2000; throttle += 7) {
    drive.throttle.width_us = throttle;
    drive.steering.width_us = 1500 + (throttle * 31 % 400) - 200;
    drive.run_ms(100);
  }
  for (const auto* pulses : {&drive.left(), &drive.right()}) {
    for (const Pulse& pulse : *pulses) {
      ASSERT_GE(pulse.width_us, 999.8);
      ASSERT_LE(pulse.width_us, 2000.2);
    }
    for (std::size_t i = 1; i < pulses->size(); ++i)
      ASSERT_NEAR(static_cast<double>((*pulses)[i].rise - (*pulses)[i - 1].rise) / 16, 19660.8, 0.8);
  }
}

TEST_F(CorrectImage, OneFrameLaterTheOutputHasMoved) {
  drive.arm();
  for (int i = 0; i < 40; ++i) {
    const double target = i % 2 ? 1500 : 1800;
    drive.throttle.width_us = target;
    drive.run_ms(20 + 20 + 20);  // a new frame begins within 20 ms, the pulse ends 2 ms later, the output's frame takes 20 ms
    const bool moved = i % 2 ? drive.last_left() < 1550 : drive.last_left() > 1750;
    ASSERT_TRUE(moved) << "step " << i << ", left " << drive.last_left();
    drive.run_ms(13 + i);
  }
}

TEST_F(CorrectImage, LossOfEitherChannelStopsBothOutputs) {
  for (Channel* lost : {&drive.throttle, &drive.steering}) {
    drive_ahead();
    lost->width_us = std::nullopt;
    drive.run_ms(320);
    drive.watch_ms(500);
    expect_all(1500);
  }
}

TEST_F(CorrectImage, ALineStuckHighOrLowIsALoss) {
  for (Channel* stuck : {&drive.throttle, &drive.steering})
    for (bool level : {true, false}) {
      drive_ahead();
      *stuck = Channel{std::nullopt, level};
      drive.run_ms(320);
      drive.watch_ms(500);
      expect_all(1500);
    }
}

TEST_F(CorrectImage, NothingButLastAndNeutralIsSentOnTheWayToSafe) {
  drive_ahead();
  const double last = drive.last_left();
  drive.throttle.width_us = drive.steering.width_us = std::nullopt;
  drive.watch_ms(500);
  for (const auto* pulses : {&drive.left(), &drive.right()})
    for (const Pulse& pulse : *pulses)
      EXPECT_TRUE(std::abs(pulse.width_us - last) < 5 || std::abs(pulse.width_us - 1500) < 0.2) << pulse.width_us;
}

TEST_F(CorrectImage, ThreeLostFramesAreRiddenOut) {
  drive_ahead();
  drive.throttle.width_us = drive.steering.width_us = std::nullopt;
  drive.watch_ms(60);
  drive.throttle.width_us = 1900;
  drive.steering.width_us = 1500;
  drive.run_ms(200);
  for (const Pulse& pulse : drive.left()) EXPECT_GT(pulse.width_us, 1850);
}

TEST_F(CorrectImage, ReturnOfTheSignalDoesNotMoveATrackUntilBothSticksWereReleased) {
  drive_ahead();
  drive.throttle.width_us = drive.steering.width_us = std::nullopt;
  drive.run_ms(600);
  drive.throttle.width_us = 1900;
  drive.steering.width_us = 1500;
  drive.watch_ms(2000);
  expect_all(1500);
  drive.throttle.width_us = 1500;
  drive.watch_ms(500);
  expect_all(1500);
  drive.run_ms(200);
  drive.throttle.width_us = 1900;
  drive.run_ms(100);
  EXPECT_GT(drive.last_left(), 1850);
}

TEST_F(CorrectImage, ImplausibleWidthsAreNoSignal) {
  for (double width : {1.0, 20.0, 300.0, 750.0, 2260.0, 5000.0}) {
    drive_ahead();
    drive.throttle.width_us = width;
    drive.run_ms(320);
    drive.watch_ms(300);
    expect_all(1500);
  }
}

TEST_F(CorrectImage, AHighOfACounterRoundMoreThanAPulseIsNoPulse) {
  drive_ahead();
  drive.frame_us = 50000;
  drive.run_ms(100);
  drive.throttle.width_us = 32768 + 1900;
  drive.run_ms(400);
  drive.watch_ms(500);
  expect_all(1500);
}

TEST_F(CorrectImage, SlowAndFastReceiversAreFollowed) {
  for (std::uint32_t frame_us : {5000u, 11000u, 22500u, 50000u}) {
    drive.frame_us = frame_us;
    drive.steering_at_us = 2500;
    drive_ahead();
  }
}

TEST_F(CorrectImage, ChannelsThatRiseTogetherAreBothMeasuredRight) {
  drive.steering_at_us = 0;
  drive.arm();
  drive.throttle.width_us = 1700;
  drive.steering.width_us = 1600;
  drive.run_ms(100);
  drive.watch_ms(2000);
  EXPECT_NEAR(mean_us(drive.left()), 1500 + 187.5 + 83.3, 1);
  EXPECT_NEAR(mean_us(drive.right()), 1500 + 187.5 - 83.3, 1);
}

// The counter wraps between an edge and the reading of its stamp: the worst place for the clock. The edge is moved across it in steps of
// one cycle; a stamp that is off by a round would lose the pulse, or the link.
TEST_F(CorrectImage, AnEdgeAtTheCountersWrapIsStampedRight) {
  constexpr std::uint64_t kRound = 65536 * 8;  // cycles
  drive.run_ms(10);
  const std::uint64_t wrap = drive.left().front().rise - 2001 * 8;  // the first pulse rises at count 2000, one tick later at the pin
  for (double edge_us : {0.0, 1900.0}) {                            // rise and fall of the throttle pulse
    drive.frame_us = 20000;
    drive_ahead();
    const std::uint64_t rounds = (drive.cycle() - wrap) / kRound + 3;
    drive.next_rise_at(wrap + rounds * kRound - static_cast<std::uint64_t>((edge_us + 12) * 16));
    drive.frame_us = kRound / 16.0 + 1.0 / 16;
    drive.run_ms(200);
    drive.watch_ms(8000);
    for (const Pulse& pulse : drive.left()) ASSERT_NEAR(pulse.width_us, 1500 + 396, 8);
  }
}

TEST_F(CorrectImage, AStormOfEdgesOnAnInputNeverMakesAnEndlessPulse) {
  for (double storm_us : {50.0, 20.0, 12.0, 10.0, 7.0}) {
    drive_ahead();
    drive.throttle.storm_us = storm_us;
    drive.watch_ms(1000);
    EXPECT_LT(drive.longest_high(), 2500) << "edges every " << storm_us << " us";
    drive.throttle.storm_us = 0;
  }
}

TEST_F(CorrectImage, AHangIsEndedByTheWatchdogAndTheMachineComesBackDisarmed) {
  drive_ahead();
  EXPECT_LT(drive.hang_ms(1000), 200);
  drive.run_ms(25);
  drive.watch_ms(1000);
  expect_all(1500);
  drive_ahead();
}

TEST_F(CorrectImage, UninitialisedMemoryDoesNotMatter) {
  EmulatedDrive other{image_path("correct"), 77};
  for (EmulatedDrive* each : {&drive, &other}) {
    each->arm();
    each->throttle.width_us = 1640;
    each->run_ms(500);
  }
  ASSERT_EQ(drive.left().size(), other.left().size());
  for (std::size_t i = 0; i < drive.left().size(); ++i) {
    EXPECT_EQ(drive.left()[i].rise, other.left()[i].rise);
    EXPECT_EQ(drive.left()[i].width_us, other.left()[i].width_us);
  }
}

}  // namespace
}  // namespace midstick::controllers
