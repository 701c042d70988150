// Losing the signal and finding it again; pulses that are none.
#include <gtest/gtest.h>

#include "tests/esc/bench.hpp"

namespace midstick::esc_test {
namespace {

TEST(SignalLoss, CutsTheMotorThenDisarms) {
  Bench b(plain());
  b.arm();
  b.send(1800, 500);
  const double last = b.now_ms() - 20 + 1.8;
  EXPECT_EQ(b.silent(300), State::lost);
  EXPECT_NEAR(b.first(State::lost), last + 250, 0.1);
  EXPECT_EQ(b.last_reason(), "no valid pulse for 250 ms");
  EXPECT_EQ(b.silent(2000), State::waiting);
  EXPECT_EQ(b.told(), "waiting, arming, neutral, forward, lost, waiting");
  EXPECT_EQ(b.send(1800, 1000), State::waiting) << "must be armed again";
  EXPECT_EQ(b.send(1500, 400), State::neutral);
}

TEST(SignalLoss, BackBeforeItDisarmsDrivesOn) {
  Bench b(plain());
  b.arm();
  b.send(1800, 500);
  b.silent(600);
  EXPECT_EQ(b.send(1800, 20), State::forward);
}

TEST(SignalLoss, PulsesOutsideTheWindowKeepNothingAlive) {
  for (const double stray : {700.0, 2300.0}) {
    Bench b(plain());
    b.arm();
    b.send(1800, 500);
    EXPECT_EQ(b.send(stray, 200), State::forward) << stray;
    EXPECT_EQ(b.send(stray, 200), State::lost) << stray;
    EXPECT_EQ(b.send(stray, 3000), State::waiting) << stray;
  }
}

TEST(OverRange, OnePulseCutsAndNeutralFreesIt) {
  Spec s = plain();
  s.over_range_cuts = true;
  Bench b(s);
  b.arm();
  b.send(1800, 500);
  EXPECT_EQ(b.send(2250, 20), State::lost);
  EXPECT_EQ(b.last_reason(), "a pulse of 2250 us is taken for a lost signal");
  EXPECT_EQ(b.send(1800, 1000), State::lost) << "latched";
  EXPECT_EQ(b.send(1500, 20), State::neutral);
  EXPECT_EQ(b.send(1800, 20), State::forward);
}

TEST(OverRange, TooShortIsOnlyNoSignal) {
  Spec s = plain();
  s.over_range_cuts = true;
  Bench b(s);
  b.arm();
  b.send(1800, 500);
  EXPECT_EQ(b.send(600, 20), State::forward);
}

TEST(Power, OffForgetsEverything) {
  Bench b(plain());
  b.arm();
  b.send(1800, 500);
  b.esc().power_off(at_ms(b.now_ms()));
  EXPECT_EQ(b.esc().state(), State::off);
  EXPECT_EQ(b.send(1500, 1000), State::off) << "no power, no answer";
  b.esc().power_on(at_ms(b.now_ms()));
  EXPECT_EQ(b.send(1500, 100), State::arming);
}

TEST(Log, IsWithoutGapsAndEachStretchHasAReason) {
  Bench b(plain());
  b.arm();
  b.send(1800, 500);
  b.send(1200, 500);
  b.silent(4000);
  const auto all = b.esc().states(at_ms(b.now_ms()));
  EXPECT_EQ(all.front().begin, at_ms(0));
  EXPECT_EQ(all.back().end, at_ms(b.now_ms()));
  for (std::size_t i = 0; i < all.size(); ++i) {
    EXPECT_FALSE(all[i].reason.empty());
    if (i > 0) {
      EXPECT_EQ(all[i].begin, all[i - 1].end);
    }
  }
}

TEST(Log, OfOnePowerUpLeavesOutPulsesBeforeAndAfter) {
  std::vector<esc::Pulse> pulses;
  for (int i = 0; i < 100; ++i) pulses.push_back({at_ms(20.0 * i), 1500});
  const auto all = esc::run(plain(), pulses, at_ms(500), at_ms(700));
  EXPECT_EQ(all.front().begin, at_ms(500));
  EXPECT_EQ(all.back().end, at_ms(700));
  EXPECT_EQ(all.back().state, State::arming);
}

TEST(Log, TakesAnyOriginOfTime) {
  std::vector<esc::Pulse> pulses;
  for (int i = 0; i < 50; ++i) pulses.push_back({at_ms(-10'000 + 20.0 * i), 1500});
  const auto all = esc::run(plain(), pulses, at_ms(-10'000), at_ms(-9'000));
  EXPECT_EQ(all.back().state, State::neutral);
  EXPECT_EQ(all.front().begin, at_ms(-10'000));
}

}  // namespace
}  // namespace midstick::esc_test
