// When is an output safe, and since when: single outputs played by hand.
#include "daemon/judge/safe.hpp"

#include <gtest/gtest.h>

#include <cmath>

#include "tests/judge/world.hpp"

namespace midstick::judge_test {
namespace {

constexpr std::int64_t kMs = 16'000;  // ticks

/// Left output of a 2 s stretch, loss at 0.
class SafeWatch : public testing::Test {
 protected:
  void pulse(double at_ms, double width_us) {
    const auto at = static_cast<std::int64_t>(at_ms * kMs);
    record_.response.push_back({{at}, 0, true, 1, false});
    record_.response.push_back({{at + static_cast<std::int64_t>(width_us * 16)}, 0, false, 1, false});
  }
  void pulses(double from_ms, double to_ms, double width_us) {
    for (double t = from_ms; t < to_ms; t += 20) pulse(t, width_us);
  }
  void stuck_high(double at_ms) { record_.response.push_back({{static_cast<std::int64_t>(at_ms * kMs)}, 0, true, 1, false}); }

  judge::SafeWatch watch(double last_us = NAN) {
    record_.clock.uncertainty_ppm = 50;
    segment_ = {0, 0, {0}, {2000 * kMs}, {}};
    const judge::Context context{plan_, plan_.checks[0], record_, {segment_}};
    const auto wiring = judge::wire(plan_);
    traffic_.emplace(context, segment_, *wiring);
    return judge::watch_safe(plan_, *traffic_, judge::Side::left, {0}, {2000 * kMs}, last_us, 20);
  }
  /// When it became safe, ms; negative: never.
  static double safe_ms(const judge::SafeWatch& w) { return w.safe_at ? static_cast<double>(w.safe_at->count) / kMs : -1; }

  script::Plan plan_ = plan_of({"signal-loss"});
  capture::Capture record_;
  capture::Segment segment_;
  std::optional<judge::Traffic> traffic_;
};

TEST_F(SafeWatch, IsSafeFromTheFallOfTheFirstSafePulse) {
  pulses(0, 200, 1900), pulses(200, 2000, 1500);
  EXPECT_NEAR(safe_ms(watch()), 201.5, 0.01);
}

TEST_F(SafeWatch, LeavingSafetyLateStartsAgain) {
  pulses(0, 200, 1900), pulses(200, 1000, 1500), pulse(1000, 1540), pulses(1020, 2000, 1500);
  const auto w = watch();
  EXPECT_NEAR(safe_ms(w), 1021.5, 0.01);
  EXPECT_EQ(w.unsafe, 11);
}

TEST_F(SafeWatch, NeverSafeWhileItHolds) {
  pulses(0, 2000, 1900);
  EXPECT_FALSE(watch().safe_at);
}

TEST_F(SafeWatch, NeutralThatFallsSilentIsNotSafeUnlessPulsesMayStop) {
  pulses(0, 200, 1900), pulses(200, 1000, 1500);
  EXPECT_FALSE(watch().safe_at);
  EXPECT_TRUE(watch().silent);
  plan_.spec.loss.pulses_may_stop = true;
  EXPECT_NEAR(safe_ms(watch()), 201.5, 0.01);
}

TEST_F(SafeWatch, SilenceBetweenSafePulsesStartsAgainUnlessPulsesMayStop) {
  pulses(0, 600, 1500), pulses(1000, 2000, 1500);
  EXPECT_NEAR(safe_ms(watch()), 1001.5, 0.01);
  plan_.spec.loss.pulses_may_stop = true;
  EXPECT_NEAR(safe_ms(watch()), 1.5, 0.01);
}

TEST_F(SafeWatch, SilenceThatIsAllowedBeginsWhenAPulseIsOverdue) {
  plan_.spec.loss.pulses_may_stop = true;
  pulses(0, 200, 1900);
  EXPECT_NEAR(safe_ms(watch()), 180 + 1.9 + plan_.spec.frame.period_high_ms, 0.01);
}

TEST_F(SafeWatch, StuckHighIsNeverSafe) {
  plan_.spec.loss.pulses_may_stop = true;
  pulses(0, 1000, 1500), stuck_high(1000);
  const auto w = watch();
  EXPECT_TRUE(w.stuck_high);
  EXPECT_FALSE(w.safe_at);
}

TEST_F(SafeWatch, PulseThatIsJustBeingSentIsNotStuck) {
  pulses(0, 1980, 1500), stuck_high(1999.5);
  EXPECT_FALSE(watch().stuck_high);
  EXPECT_TRUE(watch().safe_at);
}

TEST_F(SafeWatch, KickIsWhatLeavesTheStretchBetweenLastAndSafe) {
  pulses(0, 100, 1900), pulse(100, 1960), pulse(120, 1700), pulse(140, 1440), pulses(160, 2000, 1500);
  EXPECT_NEAR(watch(1900).kick.value(), 60, 0.01) << "60 us above the last; 55 us below the safe stretch";
  EXPECT_TRUE(watch(1900).kick.failing());
}

TEST_F(SafeWatch, LevelCountsOnlySinceItIsSafe) {
  pulses(0, 200, 1900), pulses(200, 2000, 1503);
  EXPECT_NEAR(watch().level.value(), 3, 0.01);
  EXPECT_NEAR(watch().off.value(), 400, 0.01);
}

}  // namespace
}  // namespace midstick::judge_test
