// Properties of all laws: limits, symmetry, monotony where the law has it, sign.
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>

#include "tests/mixer/any_spec.hpp"

namespace midstick::mixer {
namespace {

constexpr double kSmall = 1e-12;

bool close(double a, double b) { return std::abs(a - b) < kSmall; }

RC_GTEST_PROP(MixProperties, OutputsStayInsideTheHardClamp, ()) {
  const MixerSpec spec = any_spec();
  std::vector<double> widths;
  for (std::size_t i = 0; i < inputs(spec).size(); ++i) widths.push_back(between(500, 2500));
  const auto us = expected_all(spec, widths);
  const auto outs = outputs(spec);
  RC_ASSERT(us.size() == outs.size());
  for (std::size_t i = 0; i < us.size(); ++i) RC_ASSERT(us[i] >= outs[i]->clamp_low_us && us[i] <= outs[i]->clamp_high_us);
}

RC_GTEST_PROP(MixProperties, SidesStayWithinFullTravel, ()) {
  const Pair y = mix(any_spec(), between(-1, 1), between(-1, 1));
  RC_ASSERT(std::abs(y.left) <= 1 && std::abs(y.right) <= 1);
}

RC_GTEST_PROP(MixProperties, AllOutputsBeginWithLeftAndRight, ()) {
  const MixerSpec spec = any_spec();
  const double t = between(800, 2200), s = between(800, 2200);
  const Outputs pair = expected(spec, t, s);
  std::vector<double> widths{t, s};
  for (const InputSpec& in : spec.more_inputs) widths.push_back(in.centre_us);
  const auto all = expected_all(spec, widths);
  RC_ASSERT(std::abs(all[0] - pair.left_us) < 1e-6 && std::abs(all[1] - pair.right_us) < 1e-6);
}

RC_GTEST_PROP(MixProperties, MirroredSteeringSwapsTheSides, ()) {
  const MixerSpec spec = any_spec_of(any_mirrored_law());
  const double t = between(-1, 1), s = between(-1, 1);
  const Pair a = mix(spec, t, s), b = mix(spec, t, -s);
  RC_ASSERT(a.left == b.right && a.right == b.left);
}

/// Laws by which both sticks reversed reverse both sides. An inner wheel is the same wheel forwards and backwards, so not that one.
Law any_odd_law() {
  return *rc::gen::element(Law::clip, Law::proportional, Law::throttle_priority, Law::steering_priority, Law::blend, Law::halved,
                           Law::curvature, Law::elevon, Law::v_tail, Law::matrix);
}

RC_GTEST_PROP(MixProperties, TankMixIsOddUnderReversingBothSticks, ()) {
  MixerSpec spec = any_spec_of(any_odd_law());
  spec.reverse_steering = ReverseSteering::tank;
  const double t = between(-1, 1), s = between(-1, 1);
  const Pair a = mix(spec, t, s), b = mix(spec, -t, -s);
  RC_ASSERT(close(a.left, -b.left) && close(a.right, -b.right));
}

RC_GTEST_PROP(MixProperties, CarMixIsOddUnderReversingTheThrottleAlone, ()) {
  MixerSpec spec = any_spec_of(any_odd_law());
  spec.reverse_steering = ReverseSteering::car;
  const double t = between(0.001, 1), s = between(-1, 1);
  const Pair a = mix(spec, t, s), b = mix(spec, -t, s);
  RC_ASSERT(close(a.left, -b.left) && close(a.right, -b.right));
}

RC_GTEST_PROP(MixProperties, InnerWheelIsOddInTheThrottleBeyondThePivot, ()) {
  MixerSpec spec = any_spec_of(Law::inner_wheel);
  spec.reverse_steering = ReverseSteering::tank;
  RC_PRE(spec.wheel_limit < 1);
  const double t = between(std::max(spec.wheel_limit, 0.001), 1), s = between(-1, 1);
  const Pair a = mix(spec, t, s), b = mix(spec, -t, s);
  RC_ASSERT(close(a.left, -b.left) && close(a.right, -b.right));
}

RC_GTEST_PROP(MixProperties, MoreThrottleNeverSlowsASide, ()) {
  MixerSpec spec = any_spec_of(any_mirrored_law());
  spec.reverse_steering = ReverseSteering::tank, spec.pivot_scale = 1, spec.speed_scale = 0;
  // An inner wheel leaves its pivot, a curve its quick turn: beyond those, for either direction by itself.
  double least = -1;
  if (spec.law == Law::inner_wheel) least = std::max(0.001, spec.wheel_limit);
  if (spec.law == Law::curvature) least = std::max(0.001, spec.quick_turn);
  const double s = between(-1, 1), a = between(least, 1), b = between(least, 1);
  for (const double sign : {1.0, -1.0}) {
    if (sign < 0 && least < 0) continue;
    const Pair low = mix(spec, std::min(sign * a, sign * b), s), high = mix(spec, std::max(sign * a, sign * b), s);
    RC_ASSERT(high.left >= low.left - kSmall && high.right >= low.right - kSmall);
  }
}

RC_GTEST_PROP(MixProperties, MoreSteeringNeverSlowsTheOuterNorSpeedsTheInnerSide, ()) {
  MixerSpec spec = any_spec_of(any_mirrored_law());
  spec.reverse_steering = ReverseSteering::tank;
  const double t = between(spec.law == Law::inner_wheel ? 0 : -1, 1), a = between(-1, 1), b = between(-1, 1);
  Pair low = mix(spec, t, std::min(a, b)), high = mix(spec, t, std::max(a, b));
  if (spec.law == Law::elevon) std::swap(low, high);  // its left falls with S
  RC_ASSERT(high.left >= low.left - kSmall && high.right <= low.right + kSmall);
}

RC_GTEST_PROP(MixProperties, SteeringTurnsItsOwnWay, ()) {
  MixerSpec spec = any_spec_of(any_mirrored_law());
  spec.reverse_steering = ReverseSteering::tank;
  const double t = between(spec.law == Law::inner_wheel ? 0 : -1, 1), s = between(0, 1);
  const Pair y = mix(spec, t, s);
  RC_ASSERT((spec.law == Law::elevon ? y.left <= y.right + kSmall : y.left >= y.right - kSmall));
}

RC_GTEST_PROP(MixProperties, ThrottleAloneDrivesBothSidesAlikeAndItsOwnWay, ()) {
  MixerSpec spec = any_spec_of(any_mirrored_law());
  const double t = between(-1, 1);
  const Pair y = mix(spec, t, 0);
  RC_ASSERT(close(y.left, y.right));
  RC_ASSERT((t == 0 ? y.left == 0 : y.left * t >= 0));
}

RC_GTEST_PROP(MixProperties, SteeringAloneTurnsOnTheSpot, ()) {
  MixerSpec spec = any_spec_of(any_mirrored_law());
  const Pair y = mix(spec, 0, between(-1, 1));
  RC_ASSERT(close(y.left, -y.right));
}

RC_GTEST_PROP(MixProperties, FullStickUsesTheWholeTravelOfOneSide, ()) {
  MixerSpec spec = any_spec_of(*rc::gen::element(Law::clip, Law::proportional, Law::throttle_priority, Law::steering_priority, Law::blend,
                                                 Law::inner_wheel, Law::curvature));
  spec.pivot_scale = 1, spec.speed_scale = 0;
  RC_PRE(spec.law != Law::inner_wheel || spec.wheel_limit < 1);
  const Pair y = mix(spec, 1, between(-1, 1));
  RC_ASSERT(close(std::max(std::abs(y.left), std::abs(y.right)), 1));
}

RC_GTEST_PROP(MixProperties, ScaledSteeringIsNeverStronger, ()) {
  MixerSpec spec = any_spec_of(any_mirrored_law()), plain = spec;
  plain.pivot_scale = 1, plain.speed_scale = 0;
  const double t = between(-1, 1), s = between(-1, 1);
  const Pair a = mix(spec, t, s), b = mix(plain, t, s);
  RC_ASSERT(std::abs(a.left - a.right) <= std::abs(b.left - b.right) + kSmall);
}

RC_GTEST_PROP(StickProperties, IsMonotonicInTheWidth, ()) {
  const InputSpec in = any_input();
  const double a = between(500, 2500), b = between(500, 2500);
  const double low = stick(in, std::min(a, b)), high = stick(in, std::max(a, b));
  RC_ASSERT((in.reversed ? high <= low + kSmall : high >= low - kSmall));
}

RC_GTEST_PROP(StickProperties, IsNothingAtCentreAndTheRateAtEitherEnd, ()) {
  const InputSpec in = any_input();
  RC_ASSERT(stick(in, in.centre_us) == 0);
  RC_ASSERT(close(std::abs(stick(in, in.high_us)), in.rate) && close(std::abs(stick(in, in.low_us)), in.rate));
  RC_ASSERT(std::abs(stick(in, between(500, 2500))) <= in.rate + kSmall);
}

RC_GTEST_PROP(StickProperties, IsOddOnAStickWithTwoEqualSides, ()) {
  InputSpec in = any_input();
  in.low_us = 1100, in.centre_us = 1500, in.high_us = 1900;
  const double off = between(0, 600);
  RC_ASSERT(close(stick(in, 1500 + off), -stick(in, 1500 - off)));
}

}  // namespace
}  // namespace midstick::mixer
