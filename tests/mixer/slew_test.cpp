// Slew: away from centre and towards it at different rates, and bypassed on loss. Common practice, no source; numbers worked by hand.
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>

#include "daemon/mixer/slew.hpp"
#include "tests/mixer/any_spec.hpp"

namespace midstick::mixer {
namespace {

InputSpec slewed(double up, double down) {
  InputSpec in;
  in.slew_up = up, in.slew_down = down;
  return in;
}

TEST(Slew, MovesAwayFromCentreAtTheUpRate) {
  SlewedStick stick(slewed(2, 5));
  EXPECT_DOUBLE_EQ(stick.advance(1, 0.1), 0.2);
  EXPECT_DOUBLE_EQ(stick.advance(1, 0.1), 0.4);
  EXPECT_DOUBLE_EQ(stick.advance(1, 10), 1);
}

TEST(Slew, MovesTowardsCentreAtTheDownRate) {
  SlewedStick stick(slewed(2, 5), -1);
  EXPECT_DOUBLE_EQ(stick.advance(-0.1, 0.1), -0.5);
  EXPECT_DOUBLE_EQ(stick.advance(-0.1, 0.1), -0.1);
}

TEST(Slew, AThrowFromEndToEndUsesBothRates) {
  SlewedStick stick(slewed(2, 5), 1);
  EXPECT_DOUBLE_EQ(stick.advance(-1, 0.1), 0.5);
  EXPECT_NEAR(stick.advance(-1, 0.2), -0.2, 1e-12) << "0.1 s to the centre, then 0.1 s at 2 a second";
  EXPECT_NEAR(slew_seconds(slewed(2, 5), 1, -1), 0.2 + 0.5, 1e-12);
}

TEST(Slew, ZeroIsNoLimitOnEitherLeg) {
  EXPECT_DOUBLE_EQ(SlewedStick(slewed(0, 0)).advance(1, 0), 1);
  EXPECT_DOUBLE_EQ(SlewedStick(slewed(2, 0), 1).advance(-1, 0.1), -0.2);
  EXPECT_DOUBLE_EQ(SlewedStick(slewed(0, 5), 1).advance(-1, 0.3), -1);
}

TEST(Slew, IsBypassedOnLoss) {
  SlewedStick stick(slewed(0.1, 0.1), 1);
  stick.jump_to(0);
  EXPECT_DOUBLE_EQ(stick.position(), 0);
}

TEST(Slew, LongestOfASpecIsItsSlowestStickWithinItsRate) {
  MixerSpec spec;
  EXPECT_DOUBLE_EQ(longest_slew_seconds(spec), 0);
  spec.throttle = slewed(2, 4), spec.throttle.rate = 0.5;
  EXPECT_DOUBLE_EQ(longest_slew_seconds(spec), 0.375);
  spec.steering = slewed(1, 0);
  EXPECT_DOUBLE_EQ(longest_slew_seconds(spec), 1);
}

MixerSpec turning(double rest_ms) {
  MixerSpec spec;
  spec.throttle.slew_up = spec.steering.slew_up = 2;
  spec.throttle.slew_down = spec.steering.slew_down = 4;
  spec.turn_rest_ms = rest_ms;
  return spec;
}

TEST(Settle, WithoutARestIsTheLongerSlew) {
  EXPECT_DOUBLE_EQ(settle_seconds(turning(0), {1, 0}, {-1, 0}), 0.75);
  EXPECT_DOUBLE_EQ(settle_seconds(turning(0), {0.4, 0}, {0.4, -1}), 0.5);
  EXPECT_DOUBLE_EQ(settle_seconds(MixerSpec{}, {1, 1}, {-1, -1}), 0);
}

TEST(Settle, EachTrackThatTurnsRoundFromAheadRests) {
  EXPECT_NEAR(settle_seconds(turning(300), {1, 0}, {-1, 0}), 0.75 + 2 * 0.3, 1e-9);
  EXPECT_NEAR(settle_seconds(turning(300), {0.5, 0}, {0.5, -1}), 0.5 + 0.3, 1e-9);  // the left one only
  EXPECT_NEAR(settle_seconds(turning(300), {-1, 0}, {1, 0}), 0.75, 1e-9);           // not to ahead
  EXPECT_NEAR(settle_seconds(turning(300), {1, 0}, {0, 0}), 0.25, 1e-9);            // not to neutral
}

TEST(Settle, TheLongestHasBothTracksTurnRound) { EXPECT_NEAR(longest_slew_seconds(turning(300)), 0.75 + 2 * 0.3, 1e-9); }

RC_GTEST_PROP(SlewProperties, NeverPassesItsTargetNorItsRate, ()) {
  const InputSpec in = slewed(between(0.1, 20), between(0.1, 20));
  const double from = between(-1, 1), to = between(-1, 1), s = between(0, 0.5);
  SlewedStick stick(in, from);
  const double at = stick.advance(to, s);
  RC_ASSERT(at >= std::min(from, to) - 1e-12 && at <= std::max(from, to) + 1e-12);
  RC_ASSERT(std::abs(at - from) <= std::max(in.slew_up, in.slew_down) * s + 1e-12);
}

RC_GTEST_PROP(SlewProperties, TimeMayBeCutAnywhere, ()) {
  const InputSpec in = slewed(between(0, 20), between(0, 20));
  const double from = between(-1, 1), to = between(-1, 1), a = between(0, 0.3), b = between(0, 0.3);
  SlewedStick once(in, from), twice(in, from);
  twice.advance(to, a);
  RC_ASSERT(std::abs(once.advance(to, a + b) - twice.advance(to, b)) < 1e-9);
}

RC_GTEST_PROP(SlewProperties, ArrivesAfterItsSlewTimeAndNotBefore, ()) {
  const InputSpec in = slewed(between(0.1, 20), between(0.1, 20));
  const double from = between(-1, 1), to = between(-1, 1);
  RC_PRE(std::abs(from - to) > 0.01);
  const double s = slew_seconds(in, from, to);
  RC_ASSERT(std::abs(SlewedStick(in, from).advance(to, s + 1e-9) - to) < 1e-12);
  RC_ASSERT(SlewedStick(in, from).advance(to, s * 0.9) != to);
}

RC_GTEST_PROP(SlewProperties, RangeHoldsEveryStickOfIt, ()) {
  const InputSpec in = slewed(between(0, 20), between(0, 20));
  const double a = between(-1, 1), b = between(-1, 1), c = between(-1, 1), d = between(-1, 1);
  const double s = between(0, 0.3), more = between(0, 0.2);
  SlewedRange range(in, {std::min(a, b), std::max(a, b)});
  const Interval after = range.advance({std::min(c, d), std::max(c, d)}, s, s + more);
  SlewedStick one(in, a + (b - a) * between(0, 1));
  const double at = one.advance(c + (d - c) * between(0, 1), s + more * between(0, 1));
  RC_ASSERT(at >= after.low - 1e-12 && at <= after.high + 1e-12);
}

}  // namespace
}  // namespace midstick::mixer
