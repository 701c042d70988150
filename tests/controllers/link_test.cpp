// Signal loss and arming, compiled for the host: the same header that goes into the image.
#include "fixtures/controllers/drive/link.hpp"

#include <gtest/gtest.h>

namespace drive {
namespace {

TEST(DriveSignal, IsDeadBeforeTheFirstPulse) {
  Signal signal;
  signal.on_time(0);
  EXPECT_FALSE(signal.alive());
}

TEST(DriveSignal, LivesThroughThreeLostFramesOfTheSlowestReceiver) {
  Signal signal;
  signal.on_pulse(us(1500), ms(0));
  signal.on_time(ms(4 * 50));
  EXPECT_TRUE(signal.alive());
}

TEST(DriveSignal, DiesWellBeforeHalfASecond) {
  Signal signal;
  signal.on_pulse(us(1500), ms(0));
  signal.on_time(ms(251));
  EXPECT_FALSE(signal.alive());
}

TEST(DriveSignal, StaysDeadWhenTheClockWrapsAroundItsLastPulse) {
  Signal signal;
  signal.on_pulse(us(1500), 1000);
  signal.on_time(1000 + ms(300));
  signal.on_time(1000);  // 35.8 minutes later the clock reads the same again
  EXPECT_FALSE(signal.alive());
}

TEST(DriveSignal, TimeoutIsRightAcrossTheClocksWrap) {
  Signal signal;
  signal.on_pulse(us(1500), static_cast<Ticks>(0) - ms(100));
  signal.on_time(ms(100));
  EXPECT_TRUE(signal.alive());
  signal.on_time(ms(151));
  EXPECT_FALSE(signal.alive());
}

TEST(DriveSignal, ReturnsWithTheNextPulse) {
  Signal signal;
  signal.on_pulse(us(1500), 0);
  signal.on_time(ms(300));
  signal.on_pulse(us(1600), ms(301));
  signal.on_time(ms(301));
  EXPECT_TRUE(signal.alive());
  EXPECT_EQ(signal.width(), us(1600));
}

TEST(DriveArming, IsDisarmedAtBoot) {
  Arming arming;
  EXPECT_FALSE(arming.update(false, true, 0));
}

TEST(DriveArming, ArmsOnlyAfterBothSticksRestedForHalfASecond) {
  Arming arming;
  EXPECT_FALSE(arming.update(true, true, ms(0)));
  EXPECT_FALSE(arming.update(true, true, ms(500)));
  EXPECT_TRUE(arming.update(true, true, ms(520)));
}

TEST(DriveArming, MovingAStickStartsTheWaitAgain) {
  Arming arming;
  arming.update(true, true, ms(0));
  arming.update(true, false, ms(400));
  arming.update(true, true, ms(410));
  EXPECT_FALSE(arming.update(true, true, ms(920)));
  EXPECT_TRUE(arming.update(true, true, ms(930)));
}

TEST(DriveArming, SticksHeldOverNeverArm) {
  Arming arming;
  for (std::uint16_t t = 0; t < 5000; t += 20) EXPECT_FALSE(arming.update(true, false, ms(t)));
}

TEST(DriveArming, OnceArmedTheSticksMayMove) {
  Arming arming;
  arming.update(true, true, ms(0));
  ASSERT_TRUE(arming.update(true, true, ms(600)));
  EXPECT_TRUE(arming.update(true, false, ms(620)));
}

TEST(DriveArming, LossDisarmsAndTheWholeWaitIsAskedForAgain) {
  Arming arming;
  arming.update(true, true, ms(0));
  ASSERT_TRUE(arming.update(true, true, ms(600)));
  EXPECT_FALSE(arming.update(false, true, ms(900)));
  EXPECT_FALSE(arming.update(true, false, ms(1000)));
  EXPECT_FALSE(arming.update(true, true, ms(1100)));
  EXPECT_FALSE(arming.update(true, true, ms(1600)));
  EXPECT_TRUE(arming.update(true, true, ms(1620)));
}

}  // namespace
}  // namespace drive
