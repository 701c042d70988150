// What the controllers of several styles share, compiled for the host: stick and mix arithmetic, signal loss and arming.
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>

#include "daemon/mixer/model.hpp"
#include "fixtures/controllers/common/link.hpp"
#include "fixtures/controllers/common/mixer.hpp"

namespace common {
namespace {

Tracks driven_us(double throttle_us, double steering_us) {
  return driven(static_cast<std::uint16_t>(std::lround(throttle_us * 2)), static_cast<std::uint16_t>(std::lround(steering_us * 2)));
}

// The bench's reference model was written from the spec alone, in floating point and by other hands.
TEST(CommonMixer, AgreesWithTheReferenceModelOfTheSpec) {
  midstick::mixer::MixerSpec spec;
  for (auto* input : {&spec.throttle, &spec.steering}) {
    input->dead_band = midstick::mixer::DeadBandKind::continuous;
    input->dead_band_half_us = 20;
  }
  double worst = 0;
  for (double throttle = 850; throttle <= 2150; throttle += 6.5)
    for (double steering = 850; steering <= 2150; steering += 6.5) {
      const Tracks tracks = driven_us(throttle, steering);
      const auto expected = midstick::mixer::expected(spec, throttle, steering);
      worst =
          std::max({worst, std::abs(pulse(tracks.left) / 2.0 - expected.left_us), std::abs(pulse(tracks.right) / 2.0 - expected.right_us)});
    }
  EXPECT_LE(worst, 1.0);  // us: three roundings of half a tick, and the quotient's slope
}

TEST(CommonMixer, NoWidthLeavesTheLimits) {
  for (std::uint32_t throttle = 0; throttle <= 65535; throttle += 641)
    for (std::uint32_t steering = 0; steering <= 65535; steering += 641) {
      const Tracks tracks = driven(static_cast<std::uint16_t>(throttle), static_cast<std::uint16_t>(steering));
      ASSERT_GE(std::min(pulse(tracks.left), pulse(tracks.right)), kLowest);
      ASSERT_LE(std::max(pulse(tracks.left), pulse(tracks.right)), kHighest);
    }
}

TEST(CommonSignal, IsDeadBeforeTheFirstPulseAndOnceLostUntilTheNext) {
  Signal signal;
  EXPECT_FALSE(signal.alive());
  signal.on_pulse(us(1600), 7);
  EXPECT_TRUE(signal.alive());
  EXPECT_EQ(signal.last(), 7u);
  signal.lose();
  EXPECT_FALSE(signal.alive());
  signal.on_pulse(us(1700), 9);
  EXPECT_TRUE(signal.alive());
  EXPECT_EQ(signal.width(), us(1700));
}

TEST(CommonArming, AsksForTheWholeRestAfterEveryMoveAndEveryLoss) {
  Arming arming(ms(520));
  EXPECT_FALSE(arming.update(true, true, ms(0)));
  EXPECT_FALSE(arming.update(true, false, ms(400)));
  EXPECT_FALSE(arming.update(true, true, ms(410)));
  EXPECT_FALSE(arming.update(true, true, ms(920)));
  EXPECT_TRUE(arming.update(true, true, ms(930)));
  EXPECT_TRUE(arming.update(true, false, ms(940)));
  EXPECT_FALSE(arming.update(false, false, ms(1200)));
  EXPECT_FALSE(arming.update(true, true, ms(1210)));
  EXPECT_FALSE(arming.update(true, true, ms(1720)));
  EXPECT_TRUE(arming.update(true, true, ms(1730)));
}

TEST(CommonArming, IsRightAcrossTheClocksWrap) {
  Arming arming(ms(520));
  EXPECT_FALSE(arming.update(true, true, static_cast<Ticks>(0) - ms(100)));
  EXPECT_FALSE(arming.update(true, true, ms(419)));
  EXPECT_TRUE(arming.update(true, true, ms(420)));
}

}  // namespace
}  // namespace common
