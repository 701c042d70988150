// Whatever the pulses: rules that no ESC breaks. rapidcheck prints its seed on failure.
#include <gtest/gtest.h>
#include <rapidcheck.h>

#include "tests/esc/bench.hpp"

namespace midstick::esc_test {
namespace {

/// Pulses with gaps and strays, and any preset.
struct Scene {
  Spec spec;
  std::vector<esc::Pulse> pulses;
  TrueTime end;
};

Scene any_scene() {
  const auto presets = esc::presets();
  Scene s;
  const auto which = *rc::gen::inRange<std::size_t>(0, presets.size());
  s.spec = *esc::preset(presets[which].name, 1000, 1500, 2000);
  double t = 0;
  const int stretches = *rc::gen::inRange(1, 12);
  for (int i = 0; i < stretches; ++i) {
    const double width = *rc::gen::element(400.0, 1000.0, 1200.0, 1460.0, 1500.0, 1530.0, 1700.0, 2000.0, 2300.0);
    const int count = *rc::gen::inRange(0, 120);
    for (int k = 0; k < count; ++k, t += 20) s.pulses.push_back({at_ms(t), width + *rc::gen::inRange(-20, 21)});
    t += *rc::gen::element(0, 0, 100, 400, 3000);
  }
  s.end = at_ms(t + 1);
  return s;
}

bool moves(State s) { return esc::drives(s) || s == State::brake || s == State::dead_time; }

TEST(Properties, NeverMovesBeforeItIsArmed) {
  EXPECT_TRUE(rc::check([] {
    const Scene s = any_scene();
    bool armed = false;
    for (const auto& stretch : esc::run(s.spec, s.pulses, {0}, s.end)) {
      if (!esc::armed(stretch.state)) armed = false;
      if (stretch.state == State::neutral) armed = true;
      if (moves(stretch.state) || stretch.state == State::lost) RC_ASSERT(armed);
    }
  }));
}

TEST(Properties, ArmingTakesAtLeastItsTime) {
  EXPECT_TRUE(rc::check([] {
    const Scene s = any_scene();
    const auto all = esc::run(s.spec, s.pulses, {0}, s.end);
    for (std::size_t i = 1; i < all.size(); ++i)
      if (all[i].state == State::neutral && all[i - 1].state == State::arming)
        RC_ASSERT(static_cast<double>((all[i].begin - all[i - 1].begin).count) >= s.spec.arm_ms * 1e6);
  }));
}

TEST(Properties, DrivesOnlyTheWayThePulsesSayAndOnlyWhileTheyCome) {
  EXPECT_TRUE(rc::check([] {
    const Scene s = any_scene();
    for (const auto& stretch : esc::run(s.spec, s.pulses, {0}, s.end)) {
      if (!esc::drives(stretch.state)) continue;
      // The last valid pulse at any instant of the stretch, unless the ESC's own slew is still on its way.
      if (s.spec.slew_share > 0) continue;
      TrueTime last{-1};
      for (const auto& p : s.pulses) {
        const TrueTime fall = p.rise + esc::TrueSpan{std::llround(p.width_us * 1e3)};
        if (p.width_us < s.spec.valid_low_us || p.width_us > s.spec.valid_high_us || fall >= stretch.end || fall < stretch.begin) continue;
        last = fall;
        RC_ASSERT((stretch.state == State::forward) == (p.width_us > 1500));
      }
      RC_ASSERT(last >= stretch.begin);
      RC_ASSERT(static_cast<double>((stretch.end - last).count) <= (s.spec.cut_ms + 0.001) * 1e6);
    }
  }));
}

TEST(Properties, LearningAndLockingOutLastUntilTheEnd) {
  EXPECT_TRUE(rc::check([] {
    const Scene s = any_scene();
    const auto all = esc::run(s.spec, s.pulses, {0}, s.end);
    for (std::size_t i = 0; i + 1 < all.size(); ++i) RC_ASSERT(all[i].state != State::learning && all[i].state != State::locked_out);
  }));
}

TEST(Properties, BrakeOnlyNeverReversesAndSpeedStaysWithinOne) {
  EXPECT_TRUE(rc::check([] {
    Scene s = any_scene();
    s.spec.reverse = Reverse::brake_only;
    Esc esc(s.spec);
    esc.power_on({0});
    for (const auto& p : s.pulses) {
      esc.pulse(p);
      RC_ASSERT(std::abs(esc.speed()) <= 1);
      RC_ASSERT(esc.state() != State::reverse);
    }
  }));
}

TEST(Properties, StatesFollowOneAnotherWithoutGaps) {
  EXPECT_TRUE(rc::check([] {
    const Scene s = any_scene();
    const auto all = esc::run(s.spec, s.pulses, {0}, s.end);
    RC_ASSERT(!all.empty() && all.front().begin == TrueTime{0});
    for (std::size_t i = 1; i < all.size(); ++i) {
      RC_ASSERT(all[i].begin == all[i - 1].end);
      RC_ASSERT(all[i].state != all[i - 1].state);
      RC_ASSERT(all[i].end >= all[i].begin);
    }
  }));
}

}  // namespace
}  // namespace midstick::esc_test
