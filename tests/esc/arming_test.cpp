// From power-on to armed, or not: neutral by time and count, decay, lock-out, learn mode.
#include <gtest/gtest.h>

#include "tests/esc/bench.hpp"

namespace midstick::esc_test {
namespace {

TEST(Arming, NeedsBothTheTimeAndTheCount) {
  Spec slow = plain();
  slow.arm_ms = 500;
  Bench by_time(slow);
  EXPECT_EQ(by_time.send(1500, 480), State::arming);
  EXPECT_EQ(by_time.send(1500, 60), State::neutral);
  EXPECT_NEAR(by_time.first(State::neutral), 501.5, 0.1) << "the first pulse fell at 1.5 ms";
  Spec many = plain();
  many.arm_count = 40;
  Bench by_count(many);
  EXPECT_EQ(by_count.send(1500, 700), State::arming);
  EXPECT_EQ(by_count.send(1500, 100), State::neutral);
  EXPECT_EQ(by_count.told(), "waiting, arming, neutral");
  EXPECT_EQ(by_count.last_reason(), "armed by 40 neutral pulses in 780 ms");
}

TEST(Arming, APulseThatIsNotNeutralRestartsIt) {
  Bench b(plain());
  b.send(1500, 180);
  EXPECT_EQ(b.send(1560, 20), State::waiting);
  EXPECT_EQ(b.last_reason(), "a pulse of 1560 us is not neutral");
  EXPECT_EQ(b.send(1500, 180), State::arming);
  EXPECT_EQ(b.send(1500, 60), State::neutral);
}

TEST(Arming, NeutralIsAsWideAsTheSpecSays) {
  for (const double off : {49.0, -49.0}) EXPECT_EQ(Bench(plain()).send(1500 + off, 400), State::neutral) << off;
  for (const double off : {52.0, -52.0}) EXPECT_EQ(Bench(plain()).send(1500 + off, 400), State::waiting) << off;
}

TEST(Arming, DecayingCountNeedsLongerAndSlowFramesNeverArmIt) {
  Spec s = plain();
  s.arm_ms = 0, s.arm_decay_ms = 65.5, s.cut_ms = 1000;
  Bench b(s);
  b.send(1500, 600);
  EXPECT_NEAR(b.first(State::neutral), 241.5, 0.1) << "13 pulses in 240 ms, 3 lost";
  EXPECT_GT(b.first(State::neutral), 201.5);
  EXPECT_NE(Bench(s, 70).send(1500, 10'000), State::neutral) << "14 Hz";
  EXPECT_EQ(Bench(s, 40).send(1500, 10'000), State::neutral) << "25 Hz";
}

TEST(Arming, SilenceRestartsIt) {
  Bench b(plain());
  b.send(1500, 180);
  EXPECT_EQ(b.silent(400), State::waiting);
  EXPECT_EQ(b.last_reason(), "pulses stopped");
  EXPECT_EQ(b.send(1500, 100), State::arming);
  EXPECT_EQ(b.send(1500, 200), State::neutral);
}

TEST(Arming, PulsesOutsideTheWindowRestartIt) {
  for (const double stray : {500.0, 2400.0}) {
    Bench b(plain());
    b.send(1500, 180);
    EXPECT_EQ(b.send(stray, 20), State::waiting) << stray;
  }
}

TEST(Arming, OffNeutralAtPowerOnWaitsOrLocksOut) {
  Spec patient = plain();
  Bench waits(patient);
  EXPECT_EQ(waits.send(1600, 5000), State::waiting);
  EXPECT_EQ(waits.send(1500, 400), State::neutral);
  Spec strict = plain();
  strict.power_on = esc::PowerOn::lock_out, strict.patience_ms = 2000;
  Bench gives_up(strict);
  EXPECT_EQ(gives_up.send(1600, 1900), State::waiting);
  EXPECT_EQ(gives_up.send(1600, 200), State::locked_out);
  EXPECT_NEAR(gives_up.first(State::locked_out), 2000, 0.1);
  EXPECT_EQ(gives_up.send(1500, 5000), State::locked_out) << "until the power goes";
  gives_up.esc().power_off(at_ms(gives_up.now_ms()));
  gives_up.esc().power_on(at_ms(gives_up.now_ms() + 100));
  gives_up.silent(100);
  EXPECT_EQ(gives_up.send(1500, 400), State::neutral);
}

TEST(Arming, LockOutEndsOnceArmed) {
  Spec strict = plain();
  strict.power_on = esc::PowerOn::lock_out, strict.patience_ms = 2000;
  Bench b(strict);
  b.arm();
  b.silent(4000);
  EXPECT_EQ(b.esc().state(), State::waiting) << b.told();
  EXPECT_EQ(b.send(1500, 400), State::neutral);
}

TEST(LearnMode, IsEnteredByHighPulsesBeforeAnyNeutralOne) {
  Bench b(plain());
  EXPECT_EQ(b.send(1700, 960), State::waiting);
  EXPECT_EQ(b.send(1700, 60), State::learning) << "50 pulses";
  EXPECT_EQ(b.last_reason(), "50 pulses of about 1700 us before any neutral one");
  EXPECT_EQ(b.send(1500, 5000), State::learning) << "until the power goes";
}

TEST(LearnMode, NeedsTheTimeToo) {
  Spec s = plain();
  s.learn_ms = 3000, s.learn_count = 1;
  Bench b(s);
  EXPECT_EQ(b.send(2000, 2980), State::waiting);
  EXPECT_EQ(b.send(2000, 60), State::learning);
}

TEST(LearnMode, IsNotEnteredBelowItsLimitNorAfterNeutralNorWhenInterrupted) {
  EXPECT_EQ(Bench(plain()).send(1670, 5000), State::waiting);
  Bench seen(plain());
  seen.send(1500, 20);
  EXPECT_EQ(seen.send(1900, 5000), State::waiting);
  Bench interrupted(plain());
  for (int i = 0; i < 10; ++i) {
    interrupted.send(1900, 900);
    EXPECT_EQ(interrupted.send(1600, 20), State::waiting);
  }
}

TEST(LearnMode, SomeEscsHaveNone) {
  Spec s = plain();
  s.learn_off_us = 0;
  EXPECT_EQ(Bench(s).send(2000, 10'000), State::waiting);
}

}  // namespace
}  // namespace midstick::esc_test
