// Armed: forward, brake, and the five ways into reverse.
#include <gtest/gtest.h>

#include "tests/esc/bench.hpp"

namespace midstick::esc_test {
namespace {

TEST(Driving, FollowsPulsesAboveNeutral) {
  Bench b(plain());
  b.arm();
  EXPECT_EQ(b.send(1560, 20), State::forward);
  EXPECT_EQ(b.send(1545, 20), State::neutral) << "within 50 us";
  EXPECT_EQ(b.send(2000, 3000), State::forward);
  EXPECT_NEAR(b.esc().speed(), 1, 0.01);
}

TEST(Driving, SpeedFollowsDriveWithItsTimeConstants) {
  Spec s = plain();
  s.spin_ms = 300, s.coast_ms = 600;
  Bench b(s);
  b.arm();
  b.send(2000, 300);
  EXPECT_NEAR(b.esc().speed(), 1 - std::exp(-1), 0.02);
  const double before = b.esc().speed();
  b.send(1500, 600);
  EXPECT_NEAR(b.esc().speed(), before * std::exp(-1), 0.02);
}

TEST(DirectReverse, IsAtOnce) {
  Bench b(plain());
  b.arm();
  b.send(1800, 500);
  EXPECT_EQ(b.send(1200, 20), State::reverse);
  EXPECT_EQ(b.send(1800, 20), State::forward);
}

TEST(DirectReverse, MayWaitUntilTheVehicleIsSlow) {
  Spec s = plain();
  s.reverse_below_speed = 0.2;
  Bench b(s);
  b.arm();
  b.send(2000, 2000);
  EXPECT_EQ(b.send(1200, 20), State::dead_time);
  EXPECT_EQ(b.send(1200, 2000), State::reverse);
  EXPECT_NEAR(b.first(State::reverse) - b.first(State::dead_time), 600 * std::log(1 / 0.2), 40);
}

TEST(BrakeOnly, NeverReverses) {
  Bench b(with(Reverse::brake_only));
  b.arm();
  EXPECT_EQ(b.send(1200, 1000), State::brake) << "from standstill as well";
  b.send(1800, 500);
  b.send(1200, 3000);
  b.send(1500, 1000);
  EXPECT_EQ(b.send(1200, 3000), State::brake);
  EXPECT_EQ(b.first(State::reverse), -1);
}

TEST(BrakeOnly, BrakesFasterThanItCoasts) {
  Bench b(with(Reverse::brake_only));
  b.arm();
  b.send(2000, 2000);
  b.send(1000, 120);
  EXPECT_NEAR(b.esc().speed(), std::exp(-1), 0.08);
}

TEST(BrakeThenReverse, HeldBackStraightFromForwardItOnlyBrakes) {
  for (const Reverse r : {Reverse::after_neutral, Reverse::after_standstill}) {
    Bench b(with(r));
    b.arm();
    b.send(1800, 500);
    EXPECT_EQ(b.send(1200, 5000), State::brake);
    EXPECT_EQ(b.last_reason(), "pulse below neutral, straight from forward");
  }
}

TEST(BrakeThenReverse, ReversesFromRestWithoutBraking) {
  for (const Reverse r : {Reverse::after_neutral, Reverse::after_standstill}) {
    Bench b(with(r));
    b.arm();
    EXPECT_EQ(b.send(1200, 20), State::reverse);
  }
}

TEST(BrakeThenReverse, NeutralAloneFreesReverseWhereTheEscDoesNotAskForStandstill) {
  Bench b(with(Reverse::after_neutral));
  b.arm();
  b.send(2000, 2000);
  b.send(1500, 20);
  EXPECT_EQ(b.send(1200, 20), State::reverse);
  EXPECT_EQ(b.send(1500, 20), State::neutral);
  EXPECT_EQ(b.send(1200, 20), State::reverse) << "until forward was driven again";
  b.send(1700, 20);
  EXPECT_EQ(b.send(1200, 20), State::brake);
}

TEST(BrakeThenReverse, NeutralVisitMayHaveToLast) {
  Spec s = with(Reverse::after_neutral);
  s.neutral_visit_ms = 100;
  Bench b(s);
  b.arm();
  b.send(1800, 500);
  b.send(1500, 80);
  EXPECT_EQ(b.send(1200, 20), State::brake);
  b.send(1500, 140);
  EXPECT_EQ(b.send(1200, 20), State::reverse);
}

TEST(BrakeThenReverse, WhileRollingNeutralDoesNotCount) {
  Bench b(with(Reverse::after_standstill));
  b.arm();
  b.send(2000, 2000);
  b.send(1500, 20);
  EXPECT_EQ(b.send(1200, 600), State::brake) << "stands by now, but neutral has not been seen since";
  b.send(1500, 20);
  EXPECT_EQ(b.send(1200, 20), State::reverse);
}

TEST(BrakeThenReverse, RollingOutAtNeutralFreesItToo) {
  Bench b(with(Reverse::after_standstill));
  b.arm();
  b.send(2000, 2000);
  b.send(1500, 3000);
  EXPECT_EQ(b.send(1200, 20), State::reverse);
}

TEST(TimedReverse, WaitsEitherWayRound) {
  Bench b(with(Reverse::timed));
  b.arm();
  b.send(1800, 500);
  EXPECT_EQ(b.send(1200, 700), State::dead_time);
  EXPECT_EQ(b.send(1200, 100), State::reverse);
  EXPECT_NEAR(b.first(State::reverse) - b.first(State::dead_time), 750, 21);
  EXPECT_EQ(b.send(1800, 700), State::dead_time);
  EXPECT_EQ(b.send(1800, 100), State::forward);
}

TEST(InputSlew, TakesItsPulsesFromEndToEnd) {
  Spec s = plain();
  s.slew_share = 0.125;
  Bench b(s);
  b.arm();
  b.send(2000, 400);
  // 500 us to neutral's edge and 50 beyond, 125 us a pulse.
  EXPECT_EQ(b.send(1000, 60), State::forward);
  EXPECT_EQ(b.send(1000, 20), State::neutral);
  EXPECT_EQ(b.send(1000, 20), State::reverse);
}

TEST(OwnClock, ScalesWhatItReads) {
  Spec fast = plain();
  fast.clock_ppm = 40'000;
  EXPECT_EQ(Bench(fast).send(1500, 400), State::waiting) << "reads 1560 us";
  EXPECT_EQ(Bench(fast).send(1450, 400), State::neutral) << "reads 1508 us";
  Spec slow = plain();
  slow.clock_ppm = -20'000;
  Bench b(slow);
  b.arm();
  EXPECT_EQ(b.send(2240, 20), State::forward) << "reads 2195 us, within its window";
}

}  // namespace
}  // namespace midstick::esc_test
