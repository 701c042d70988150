// Properties that hold for every spec and every stick. RapidCheck prints the seed (RC_PARAMS="seed=...") and the shrunk case.
#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <algorithm>
#include <cmath>

#include "tests/mixer/worked_spec.hpp"

namespace midstick::mixer {
namespace {

/// Value in [low, high] in steps of 1/1000 of the range.
double between(double low, double high) { return low + (high - low) * *rc::gen::inRange(0, 1001) / 1000.0; }

InputSpec any_input() {
  InputSpec in;
  in.low_us = between(900, 1200);
  in.centre_us = between(1450, 1550);
  in.high_us = between(1800, 2100);
  in.reversed = *rc::gen::arbitrary<bool>();
  in.dead_band = *rc::gen::element(DeadBandKind::none, DeadBandKind::jump, DeadBandKind::continuous);
  in.dead_band_half_us = between(0, 60);
  in.expo = between(0, 1);
  in.rate = between(0, 1);
  return in;
}

OutputSpec any_output() {
  OutputSpec out;
  out.low_us = between(1000, 1200);
  out.neutral_us = between(1450, 1550);
  out.high_us = between(1800, 2000);
  out.reversed = *rc::gen::arbitrary<bool>();
  out.reverse_limit = between(0, 1);
  out.trim_us = between(-20, 20);
  out.clamp_low_us = between(1000, 1100);
  out.clamp_high_us = between(1900, 2000);
  return out;
}

MixerSpec any_spec() {
  MixerSpec spec;
  spec.throttle = any_input();
  spec.steering = any_input();
  spec.law = *rc::gen::element(Law::clip, Law::proportional, Law::throttle_priority, Law::steering_priority, Law::blend, Law::halved);
  spec.blend = between(0, 1);
  spec.reverse_steering = *rc::gen::element(ReverseSteering::tank, ReverseSteering::car);
  spec.left = any_output();
  spec.right = any_output();
  return spec;
}

RC_GTEST_PROP(MixProperties, OutputsStayInsideTheHardClamp, ()) {
  const MixerSpec spec = any_spec();
  const Outputs y = expected(spec, between(500, 2500), between(500, 2500));
  RC_ASSERT(y.left_us >= spec.left.clamp_low_us && y.left_us <= spec.left.clamp_high_us);
  RC_ASSERT(y.right_us >= spec.right.clamp_low_us && y.right_us <= spec.right.clamp_high_us);
}

RC_GTEST_PROP(MixProperties, MirroredSteeringSwapsTheSides, ()) {
  const MixerSpec spec = any_spec();
  const double t = between(-1, 1), s = between(-1, 1);
  const Pair a = mix(spec, t, s), b = mix(spec, t, -s);
  RC_ASSERT(a.left == b.right && a.right == b.left);
}

RC_GTEST_PROP(MixProperties, TankMixIsOddUnderReversingBothSticks, ()) {
  MixerSpec spec = any_spec();
  spec.reverse_steering = ReverseSteering::tank;
  const double t = between(-1, 1), s = between(-1, 1);
  const Pair a = mix(spec, t, s), b = mix(spec, -t, -s);
  RC_ASSERT(std::abs(a.left + b.left) < 1e-12 && std::abs(a.right + b.right) < 1e-12);
}

RC_GTEST_PROP(MixProperties, MoreThrottleNeverSlowsASide, ()) {
  MixerSpec spec = any_spec();
  spec.reverse_steering = ReverseSteering::tank;
  const double s = between(-1, 1), a = between(-1, 1), b = between(-1, 1);
  const Pair low = mix(spec, std::min(a, b), s), high = mix(spec, std::max(a, b), s);
  RC_ASSERT(high.left >= low.left - 1e-12 && high.right >= low.right - 1e-12);
}

RC_GTEST_PROP(MixProperties, MoreSteeringNeverSlowsTheLeftNorSpeedsTheRight, ()) {
  MixerSpec spec = any_spec();
  spec.reverse_steering = ReverseSteering::tank;
  const double t = between(-1, 1), a = between(-1, 1), b = between(-1, 1);
  const Pair low = mix(spec, t, std::min(a, b)), high = mix(spec, t, std::max(a, b));
  RC_ASSERT(high.left >= low.left - 1e-12 && high.right <= low.right + 1e-12);
}

RC_GTEST_PROP(MixProperties, NoLawJumps, ()) {
  MixerSpec spec = any_spec();
  spec.reverse_steering = ReverseSteering::tank;
  const double t = between(-1, 1), s = between(-1, 1), step = 1e-6;
  const Pair a = mix(spec, t, s), b = mix(spec, std::min(1.0, t + step), std::min(1.0, s + step));
  RC_ASSERT(std::abs(a.left - b.left) < 10 * step && std::abs(a.right - b.right) < 10 * step);
}

RC_GTEST_PROP(MixProperties, FullStickUsesTheWholeTravelOfOneSideUnlessHalved, ()) {
  MixerSpec spec = any_spec();
  RC_PRE(spec.law != Law::halved);
  const double s = between(-1, 1);
  const Pair y = mix(spec, 1, s);
  RC_ASSERT(std::abs(std::max(std::abs(y.left), std::abs(y.right)) - 1) < 1e-12);
}

RC_GTEST_PROP(StickProperties, IsMonotonicInTheWidth, ()) {
  const InputSpec in = any_input();
  const double a = between(500, 2500), b = between(500, 2500);
  const double low = stick(in, std::min(a, b)), high = stick(in, std::max(a, b));
  RC_ASSERT((in.reversed ? high <= low + 1e-12 : high >= low - 1e-12));
}

RC_GTEST_PROP(StickProperties, NeverExceedsTheRate, ()) {
  const InputSpec in = any_input();
  RC_ASSERT(std::abs(stick(in, between(500, 2500))) <= in.rate + 1e-12);
}

RC_GTEST_PROP(ExpectedWithinProperties, HoldsEveryInputOfTheBox, ()) {
  const MixerSpec spec = any_spec();
  const double t = between(800, 2200), s = between(800, 2200), half = between(0, 20);
  const OutputIntervals range = expected_within(spec, t, s, half);
  for (int i = 0; i < 50; ++i) {
    const Outputs y = expected(spec, between(t - half, t + half), between(s - half, s + half));
    RC_ASSERT(y.left_us >= range.left.low - 1e-9 && y.left_us <= range.left.high + 1e-9);
    RC_ASSERT(y.right_us >= range.right.low - 1e-9 && y.right_us <= range.right.high + 1e-9);
  }
}

RC_GTEST_PROP(ExpectedWithinProperties, IsNoWiderThanTheSteepestLawAllows, ()) {
  MixerSpec spec = any_spec();
  spec.reverse_steering = ReverseSteering::tank;
  spec.throttle.dead_band = spec.steering.dead_band = DeadBandKind::none;
  const double half = between(0, 20);
  const OutputIntervals range = expected_within(spec, between(800, 2200), between(800, 2200), half);
  // Input slope at most 3 (expo 1 at full stick), two inputs, box 2 half wide, 550 us of output for 250 us of input, laws of slope <= 2.
  RC_ASSERT(range.left.high - range.left.low <= 3 * 2 * 2 * half * (550.0 / 250.0) * 2 + 1e-9);
}

}  // namespace
}  // namespace midstick::mixer
