// The six mixing laws. Common practice, no source (trade.md section 5, with its golden vectors for the blend law).
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

// trade.md section 5; 0.66 and 0.33 stand there for 2/3 and 1/3.
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
