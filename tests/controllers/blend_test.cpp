// The blend controller's arithmetic, compiled for the host: the same header that goes into the image.
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>

#include "daemon/mixer/model.hpp"
#include "fixtures/controllers/blend/mixer.hpp"

namespace blend {
namespace {

constexpr double kUnit = 1.0 / kOne;

std::int16_t off(double width_us) { return static_cast<std::int16_t>(std::lround((width_us - 1500) * 2)); }

/// A stick that came from far outside, or from the middle, and then rested at `width_us`.
std::int16_t settled(double from_us, double width_us) {
  Band band;
  for (const double width : {from_us, from_us, width_us, width_us}) band.passed(off(width));
  return band.passed(off(width_us));
}

midstick::mixer::MixerSpec spec() {
  midstick::mixer::MixerSpec s;
  for (auto* in : {&s.throttle, &s.steering}) {
    in->dead_band = midstick::mixer::DeadBandKind::hysteresis;
    in->dead_band_half_us = 20;
    in->dead_band_hysteresis_us = 3;
    in->expo = 0.3;
  }
  s.throttle.rate = 0.9;
  s.steering.rate = 0.8;
  s.law = midstick::mixer::Law::blend;
  s.blend = 0.75;
  for (auto* out : {&s.left, &s.right}) {
    out->low_us = out->clamp_low_us = 1100;
    out->high_us = out->clamp_high_us = 1900;
    out->reverse_limit = 0.6;
  }
  return s;
}

TEST(BlendBand, IsLeftWhereItIsWideAndEnteredWhereItIsNarrow) {
  EXPECT_EQ(settled(1500, 1522.5), 0);
  EXPECT_EQ(settled(1500, 1523), 46);
  EXPECT_EQ(settled(1600, 1517.5), 35);
  EXPECT_EQ(settled(1600, 1517), 0);
  EXPECT_EQ(settled(1500, 1477), -46);
  EXPECT_EQ(settled(1400, 1483), 0);
}

TEST(BlendBand, OneLateStampAtTheEdgeDoesNotCount) {
  Band band;
  EXPECT_EQ(band.passed(off(1521)), 0);
  EXPECT_EQ(band.passed(off(1525)), 0);
  EXPECT_EQ(band.passed(off(1521)), 0);
  EXPECT_EQ(band.passed(off(1525)), 0);
  EXPECT_EQ(band.passed(off(1525)), 50);
}

TEST(BlendBand, AStickThatIsReallyMovedLosesNoFrame) {
  Band band;
  EXPECT_EQ(band.passed(off(1600)), 200);
}

TEST(BlendStick, ExpoIsGentleInTheMiddleAndFullAtTheEnd) {
  EXPECT_NEAR(shaped(500, kOne - 1) * kUnit, 0.7 * 0.5 + 0.3 * 0.125, 0.001);
  EXPECT_NEAR(shaped(1000, kThrottleRate) * kUnit, 0.9, 0.001);
  EXPECT_NEAR(shaped(-1300, kSteeringRate) * kUnit, -0.8, 0.001);
}

// T 0.9, S 0.8: alike S would be 0.471; half way to 0.8 is 0.635, and throttle has 0.365 left.
TEST(BlendLaw, SteeringGivesWayHalfAsMuchAndThrottleTakesTheRest) {
  const Tracks tracks = mixed(of_one(0.9), of_one(0.8));
  EXPECT_NEAR(tracks.left * kUnit, 1.0, 0.001);
  EXPECT_NEAR(tracks.right * kUnit, 0.3647 - 0.6353, 0.001);
}

TEST(BlendLaw, WithinReachNothingGivesWay) {
  const Tracks tracks = mixed(of_one(0.4), -of_one(0.3));
  EXPECT_EQ(tracks.left, of_one(0.4) - of_one(0.3));
  EXPECT_EQ(tracks.right, of_one(0.4) + of_one(0.3));
}

TEST(BlendPulse, ReverseIsLimited) {
  EXPECT_EQ(pulse(kOne), us(1900));
  EXPECT_EQ(pulse(-kOne), us(1260));
  EXPECT_EQ(pulse(0), us(1500));
}

// The bench's reference model was written from the spec alone, in floating point and by other hands.
TEST(BlendMixer, AgreesWithTheReferenceModelOfTheSpec) {
  const auto wanted = spec();
  double worst = 0;
  for (double throttle = 850; throttle <= 2150; throttle += 6.5)
    for (double steering = 850; steering <= 2150; steering += 6.5) {
      const auto near_edge = [](double width) { return std::abs(std::abs(width - 1500) - 20) <= 3; };  // either is right there
      if (near_edge(throttle) || near_edge(steering)) continue;
      const auto stick = [](double width, Fraction rate) { return shaped(settled(1500, width), rate); };
      const Tracks tracks = mixed(stick(throttle, kThrottleRate), stick(steering, kSteeringRate));
      const auto expected = midstick::mixer::expected(wanted, throttle, steering);
      worst =
          std::max({worst, std::abs(pulse(tracks.left) / 2.0 - expected.left_us), std::abs(pulse(tracks.right) / 2.0 - expected.right_us)});
    }
  EXPECT_LE(worst, 1.0);  // us: widths are cut to half a us, twice
}

}  // namespace
}  // namespace blend
