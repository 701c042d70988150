// The intervals are true bounds, for every law, and no wider than they must be. Held by dense sampling of the box of inputs.
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>

#include "tests/mixer/any_spec.hpp"

namespace midstick::mixer {
namespace {

constexpr double kRounding = 1e-7;

bool holds(const Interval& range, double us) { return us >= range.low - kRounding && us <= range.high + kRounding; }

/// A controller may be in either state of a hysteresis between its two edges: it is a jump band of some half width between them.
InputSpec one_state_of(InputSpec in) {
  if (in.dead_band != DeadBandKind::hysteresis) return in;
  in.dead_band = DeadBandKind::jump;
  in.dead_band_half_us = std::max(0.0, in.dead_band_half_us + between(-1, 1) * in.dead_band_hysteresis_us);
  return in;
}

MixerSpec one_state_of(MixerSpec spec) {
  spec.throttle = one_state_of(spec.throttle), spec.steering = one_state_of(spec.steering);
  for (InputSpec& in : spec.more_inputs) in = one_state_of(in);
  return spec;
}

/// Near a place where something turns or jumps, half of the time: that is where bounds go wrong.
double interesting_width(const MixerSpec& spec, const InputSpec& in) {
  const double off = *rc::gen::element(0.0, in.dead_band_half_us, -in.dead_band_half_us);
  const double x = *rc::gen::element(spec.wheel_limit, spec.quick_turn, -spec.quick_turn, 1.0, -1.0);
  return *rc::gen::element(between(800, 2200), in.centre_us + off, width_for_stick(in, x)) + between(-3, 3);
}

constexpr int kSamples = 40;

RC_GTEST_PROP(Bounds, HoldEveryInputOfTheBox, ()) {
  const MixerSpec spec = any_spec();
  const auto ins = inputs(spec);
  std::vector<double> centre;
  for (const InputSpec* in : ins) centre.push_back(interesting_width(spec, *in));
  const double half = *rc::gen::element(0.0, 0.5, 4.0, 20.0, 200.0);
  const auto ranges = expected_all_within(spec, centre, half);
  const MixerSpec state = one_state_of(spec);
  for (int n = 0; n < kSamples; ++n) {
    std::vector<double> widths;
    for (const double c : centre) widths.push_back(c + half * *rc::gen::element(-1.0, 1.0, between(-1, 1), between(-1, 1)));
    const auto us = expected_all(state, widths);
    for (std::size_t i = 0; i < us.size(); ++i) RC_ASSERT(holds(ranges[i], us[i]));
  }
}

RC_GTEST_PROP(Bounds, HoldEverySampleOfADenseGrid, ()) {
  const MixerSpec spec = any_spec();
  const double t = interesting_width(spec, spec.throttle), s = interesting_width(spec, spec.steering);
  const double half = *rc::gen::element(2.0, 20.0, 200.0);
  const auto range = expected_within(spec, t, s, half);
  const MixerSpec state = one_state_of(spec);
  for (double a = -1; a <= 1; a += 1.0 / 16)
    for (double b = -1; b <= 1; b += 1.0 / 16) {
      const Outputs us = expected(state, t + a * half, s + b * half);
      RC_ASSERT(holds(range.left, us.left_us) && holds(range.right, us.right_us));
    }
}

RC_GTEST_PROP(Bounds, AreReachedByALawThatDoesNotJump, ()) {
  MixerSpec spec = any_spec();
  spec.reverse_steering = ReverseSteering::tank, spec.pivot_scale = 1, spec.speed_scale = 0;
  spec.quick_turn = 0, spec.wheel_limit = std::max(0.25, spec.wheel_limit);
  for (OutputSpec* out : {&spec.left, &spec.right}) out->start_offset = 0;
  for (InputSpec* in : {&spec.throttle, &spec.steering})
    if (in->dead_band == DeadBandKind::jump || in->dead_band == DeadBandKind::hysteresis) in->dead_band = DeadBandKind::continuous;
  const double t = between(800, 2200), s = between(800, 2200), half = 20;
  const auto range = expected_within(spec, t, s, half);
  Interval left{1e9, -1e9}, right{1e9, -1e9};
  for (double a = -1; a <= 1; a += 1.0 / 16)
    for (double b = -1; b <= 1; b += 1.0 / 16) {
      const Outputs us = expected(spec, t + a * half, s + b * half);
      left = {std::min(left.low, us.left_us), std::max(left.high, us.left_us)};
      right = {std::min(right.low, us.right_us), std::max(right.high, us.right_us)};
    }
  // Two samples are at most 1.25 us apart; the steepest stage of these specs turns 1 us of stick into about 25 us of output.
  RC_ASSERT(left.low - range.left.low < 32 && range.left.high - left.high < 32);
  RC_ASSERT(right.low - range.right.low < 32 && range.right.high - right.high < 32);
}

RC_GTEST_PROP(Bounds, OfExactInputsAreTheExactOutputs, ()) {
  MixerSpec spec = any_spec();
  for (InputSpec* in : {&spec.throttle, &spec.steering})
    if (in->dead_band == DeadBandKind::hysteresis) in->dead_band = DeadBandKind::jump;
  const double t = between(800, 2200), s = between(800, 2200);
  RC_PRE(spec.law != Law::curvature || std::abs(std::abs(stick(spec.throttle, t)) - spec.quick_turn) > 1e-9);
  const auto range = expected_within(spec, t, s, 0);
  const Outputs us = expected(spec, t, s);
  RC_ASSERT(std::abs(range.left.low - us.left_us) < kRounding && std::abs(range.left.high - us.left_us) < kRounding);
  RC_ASSERT(std::abs(range.right.low - us.right_us) < kRounding && std::abs(range.right.high - us.right_us) < kRounding);
}

RC_GTEST_PROP(Bounds, OfAWiderBoxAreWider, ()) {
  const MixerSpec spec = any_spec();
  const double t = between(800, 2200), s = between(800, 2200), half = between(0, 20);
  const auto narrow = expected_within(spec, t, s, half), wide = expected_within(spec, t, s, half + between(0, 5));
  RC_ASSERT(wide.left.low <= narrow.left.low + kRounding && wide.left.high >= narrow.left.high - kRounding);
  RC_ASSERT(wide.right.low <= narrow.right.low + kRounding && wide.right.high >= narrow.right.high - kRounding);
}

}  // namespace
}  // namespace midstick::mixer
