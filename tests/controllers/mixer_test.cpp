// The controller's stick and mix arithmetic, compiled for the host: the same headers that go into the image.
#include "fixtures/controllers/drive/mixer.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>

#include "daemon/mixer/model.hpp"

namespace drive {
namespace {

Tracks driven(double throttle_us, double steering_us) {
  const auto stick = [](double width_us) { return with_dead_band(normalised(static_cast<std::uint16_t>(std::lround(width_us * 2)))); };
  return mixed(stick(throttle_us), stick(steering_us));
}
double left_us(Tracks tracks) { return pulse(tracks.left, kLowest, kHighest) / 2.0; }
double right_us(Tracks tracks) { return pulse(tracks.right, kLowest, kHighest) / 2.0; }

TEST(DriveMixer, ReleasedSticksAreExactlyNeutralAllThroughTheDeadBand) {
  for (int off = -20; off <= 20; ++off) {
    EXPECT_EQ(left_us(driven(1500 + off, 1500)), 1500) << off;
    EXPECT_EQ(right_us(driven(1500, 1500 + off)), 1500) << off;
  }
}

TEST(DriveMixer, DeadBandIsContinuousAtItsEdge) {
  EXPECT_EQ(with_dead_band(40), 0);
  EXPECT_EQ(with_dead_band(42), 2);
  EXPECT_EQ(with_dead_band(-42), -2);
}

TEST(DriveMixer, FullStickIsFullSpeedDespiteTheDeadBand) {
  EXPECT_EQ(with_dead_band(kFull), kFull);
  EXPECT_EQ(with_dead_band(-kFull), -kFull);
}

TEST(DriveMixer, OverTravelIsFullStick) {
  EXPECT_EQ(normalised(us(2150)), kFull);
  EXPECT_EQ(normalised(us(850)), -kFull);
}

TEST(DriveMixer, RightStickTurnsRightBecauseTheLeftTrackLeads) {
  const Tracks turn = mixed(0, 500);
  EXPECT_EQ(turn.left, 500);
  EXPECT_EQ(turn.right, -500);
}

TEST(DriveMixer, SteeringKeepsItsSignInReverse) {
  const Tracks turn = mixed(-400, 200);
  EXPECT_EQ(turn.left, -200);
  EXPECT_EQ(turn.right, -600);
}

// Proportional law (common practice, no source): T 1.0 S 0.5 becomes 0.66 / 0.33, T 0.8 S 0.8 becomes 0.5 / 0.5.
TEST(DriveMixer, TooMuchIsShrunkAlikeSoThatTheTurnIsKept) {
  const Tracks fast = mixed(1000, 500);
  EXPECT_EQ(fast.left, 1000);
  EXPECT_EQ(fast.right, 333);
  const Tracks corner = mixed(800, 800);
  EXPECT_EQ(corner.left, 1000);
  EXPECT_EQ(corner.right, 0);
}

TEST(DriveMixer, RoundingIsTheSameForwardsAndBackwards) {
  for (std::int16_t value = 0; value <= kFull; ++value) EXPECT_EQ(scaled(-value, 1000, 1501), -scaled(value, 1000, 1501)) << value;
}

TEST(DriveMixer, NoStickPositionLeavesTheLimits) {
  for (int throttle = 800; throttle <= 2200; throttle += 5)
    for (int steering = 800; steering <= 2200; steering += 5) {
      const Tracks tracks = driven(throttle, steering);
      ASSERT_GE(left_us(tracks), 1000);
      ASSERT_LE(left_us(tracks), 2000);
      ASSERT_GE(right_us(tracks), 1000);
      ASSERT_LE(right_us(tracks), 2000);
    }
}

// The bench's reference model was written from the spec alone, in floating point and by other hands.
TEST(DriveMixer, AgreesWithTheReferenceModelOfTheSpec) {
  midstick::mixer::MixerSpec spec;
  for (auto* input : {&spec.throttle, &spec.steering}) {
    input->dead_band = midstick::mixer::DeadBandKind::continuous;
    input->dead_band_half_us = 20;
  }
  double worst = 0;
  for (double throttle = 850; throttle <= 2150; throttle += 6.5)
    for (double steering = 850; steering <= 2150; steering += 6.5) {
      const Tracks tracks = driven(throttle, steering);
      const auto expected = midstick::mixer::expected(spec, throttle, steering);
      worst = std::max({worst, std::abs(left_us(tracks) - expected.left_us), std::abs(right_us(tracks) - expected.right_us)});
    }
  EXPECT_LE(worst, 1.0);  // us: three roundings of half a tick, and the quotient's slope
}

}  // namespace
}  // namespace drive
