// The mixing laws, by numbers worked by hand. Common practice, no source, with six golden vectors for the blend law.
#include <gtest/gtest.h>

#include "tests/mixer/worked_spec.hpp"

namespace midstick::mixer {
namespace {

Pair mixed(Law law, double t, double s, double blend = 0.5) {
  MixerSpec spec = plain_spec();
  spec.law = law;
  spec.blend = blend;
  return mix(spec, t, s);
}

void expect_pair(Pair got, double left, double right) {
  EXPECT_NEAR(got.left, left, 1e-12);
  EXPECT_NEAR(got.right, right, 1e-12);
}

TEST(Mix, InsideTheDiamondEveryLawButHalvedAddsAndSubtracts) {
  for (const Law law : {Law::clip, Law::proportional, Law::throttle_priority, Law::steering_priority, Law::blend})
    expect_pair(mixed(law, 0.5, -0.25), 0.25, 0.75);
}

TEST(Mix, ClipClampsEachSideAndLosesSteering) {
  expect_pair(mixed(Law::clip, 1.0, 0.5), 1.0, 0.5);
  expect_pair(mixed(Law::clip, -0.8, 0.6), -0.2, -1.0);
}

TEST(Mix, ProportionalKeepsTheRatio) {
  expect_pair(mixed(Law::proportional, 1.0, 0.5), 1.0, (1.0 - 0.5) / 1.5);
  expect_pair(mixed(Law::proportional, -1.0, 1.0), 0.0, -1.0);
}

TEST(Mix, ThrottlePriorityGivesSteeringWhatIsLeft) {
  expect_pair(mixed(Law::throttle_priority, 0.8, 0.6), 1.0, 0.6);
  expect_pair(mixed(Law::throttle_priority, -0.8, -0.6), -1.0, -0.6);
}

TEST(Mix, SteeringPriorityGivesThrottleWhatIsLeft) {
  expect_pair(mixed(Law::steering_priority, 0.8, 0.6), 1.0, -0.2);
  expect_pair(mixed(Law::steering_priority, -0.8, 0.6), 0.2, -1.0);
}

TEST(Mix, HalvedNeverSaturates) {
  expect_pair(mixed(Law::halved, 1.0, 1.0), 1.0, 0.0);
  expect_pair(mixed(Law::halved, 1.0, 0.0), 0.5, 0.5);
}

struct Golden {
  double throttle, steering, blend, throttle_out, steering_out;
};

// Common practice, no source; 0.66 and 0.33 stand there for 2/3 and 1/3.
constexpr Golden kGolden[] = {{1.0, 0.5, 0.0, 1.0, 0.0}, {1.0, 0.5, 0.5, 2.0 / 3, 1.0 / 3}, {1.0, 0.5, 1.0, 0.5, 0.5},
                              {0.8, 0.8, 0.0, 0.8, 0.2}, {0.8, 0.8, 0.5, 0.5, 0.5},         {0.8, 0.8, 1.0, 0.2, 0.8}};

TEST(Blend, MeetsTheSixGoldenVectorsInAllFourQuadrants) {
  for (const Golden& g : kGolden)
    for (const double st : {1.0, -1.0})
      for (const double ss : {1.0, -1.0}) {
        const Pair y = mixed(Law::blend, st * g.throttle, ss * g.steering, g.blend);
        EXPECT_NEAR((y.left + y.right) / 2, st * g.throttle_out, 1e-12) << g.throttle << ' ' << g.blend;
        EXPECT_NEAR((y.left - y.right) / 2, ss * g.steering_out, 1e-12) << g.throttle << ' ' << g.blend;
      }
}

TEST(Blend, EndsAndMiddleAreTheThreeSimpleLaws) {
  for (double t = -1; t <= 1; t += 0.125)
    for (double s = -1; s <= 1; s += 0.125) {
      const auto same = [&](double k, Law law) {
        const Pair want = mixed(law, t, s);
        expect_pair(mixed(Law::blend, t, s, k), want.left, want.right);
      };
      same(0, Law::throttle_priority);
      same(0.5, Law::proportional);
      same(1, Law::steering_priority);
    }
}

TEST(InnerWheel, SlowsTheInnerSideAndPivotsNearStandstill) {
  MixerSpec spec = plain_spec();
  spec.law = Law::inner_wheel, spec.wheel_limit = 0.25;
  expect_pair(mix(spec, 0.8, 0.5), 0.8, 0.4);
  expect_pair(mix(spec, 0.8, -0.5), 0.4, 0.8);
  expect_pair(mix(spec, -0.8, 0.5), -0.8, -0.4);
  expect_pair(mix(spec, 0, 0.5), 0.5, -0.5);
  expect_pair(mix(spec, 0.125, 0.5), 0.5 * 0.125 + 0.5 * 0.5, 0.5 * 0.0625 - 0.5 * 0.5);
  spec.wheel_limit = 0;
  expect_pair(mix(spec, 0.125, 0.5), 0.125, 0.0625);
  expect_pair(mix(spec, 0, 0.5), 0.5, -0.5);
}

TEST(Curvature, TurnsWithSpeedAndQuicklyNearStandstill) {
  MixerSpec spec = plain_spec();
  spec.law = Law::curvature, spec.quick_turn = 0.1;
  expect_pair(mix(spec, 0.5, 0.4), 0.7, 0.3);
  expect_pair(mix(spec, -0.5, 0.4), -0.3, -0.7);
  expect_pair(mix(spec, 0.05, 0.4), 0.45, -0.35);
  expect_pair(mix(spec, 0.8, 1), 1, 0);
  spec.quick_turn = 0;
  expect_pair(mix(spec, 0, 0.4), 0, 0);
}

TEST(Planes, ElevonAndVTail) {
  expect_pair(mixed(Law::elevon, 0.6, 0.4), 0.1, 0.5);
  MixerSpec spec = plain_spec();
  spec.law = Law::v_tail, spec.gain_t = 0.8, spec.gain_s = 0.5;
  expect_pair(mix(spec, 0.5, 0.4), 0.6, 0.2);
  expect_pair(mix(spec, 1, 1), 1, 0.3);
}

TEST(Scales, PivotGivesLessSteeringAtStandstillSpeedLessAtFullThrottle) {
  MixerSpec spec = plain_spec();
  spec.law = Law::clip;
  spec.pivot_scale = 0.6;
  expect_pair(mix(spec, 0, 0.5), 0.3, -0.3);
  expect_pair(mix(spec, 0.5, 0.25), 0.7, 0.3);
  spec.pivot_scale = 1, spec.speed_scale = 0.4;
  expect_pair(mix(spec, 0, 0.5), 0.5, -0.5);
  expect_pair(mix(spec, -0.5, 0.25), -0.3, -0.7);
}

TEST(Matrix, EveryOutputIsAWeightedSumOfEveryInput) {
  MixerSpec spec = plain_spec();
  spec.law = Law::matrix;
  spec.matrix = {{1, 0.5, 0}, {1, -0.5, 0}, {0.25, 0, -0.75}};
  spec.more_inputs.resize(1), spec.more_outputs.resize(1);
  const double widths[] = {1750, 1600, 1900};
  const auto us = expected_all(spec, widths);
  ASSERT_EQ(us.size(), 3u);
  EXPECT_NEAR(us[0], 1500 + 500 * (0.5 + 0.1), 1e-9);
  EXPECT_NEAR(us[1], 1500 + 500 * (0.5 - 0.1), 1e-9);
  EXPECT_NEAR(us[2], 1500 + 500 * (0.125 - 0.6), 1e-9);
  EXPECT_NEAR(expected_all(spec, std::span(widths).first(2))[2], 1500 + 500 * 0.125, 1e-9) << "an input not given rests at its centre";
}

TEST(LearnedLaw, IsBilinearBetweenItsPositionsAndFlatBeyond) {
  MixerSpec spec = plain_spec();
  spec.law = Law::table;
  spec.table = {{-0.5, 0.5}, {-1, 1}, {{1100, 1300}, {1500, 1900}}, {{1300, 1100}, {1900, 1500}}};
  EXPECT_DOUBLE_EQ(expected(spec, 1250, 1000).left_us, 1100);
  EXPECT_DOUBLE_EQ(expected(spec, 1500, 1500).left_us, (1100 + 1300 + 1500 + 1900) / 4.0);
  EXPECT_DOUBLE_EQ(expected(spec, 2000, 2000).left_us, 1900) << "beyond the last position";
  EXPECT_DOUBLE_EQ(expected(spec, 1750, 1750).right_us, 1600);
}

TEST(ReverseSteering, TankKeepsTheSignCarFlipsIt) {
  MixerSpec spec = plain_spec();
  expect_pair(mix(spec, -0.5, 0.25), -0.25, -0.75);
  spec.reverse_steering = ReverseSteering::car;
  expect_pair(mix(spec, -0.5, 0.25), -0.75, -0.25);
  expect_pair(mix(spec, 0.5, 0.25), 0.75, 0.25);
  expect_pair(mix(spec, 0, 0.25), 0.25, -0.25);
}

}  // namespace
}  // namespace midstick::mixer
