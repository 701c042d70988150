#include "daemon/mixer/model.hpp"

#include <algorithm>
#include <array>
#include <cmath>

namespace midstick::mixer {
namespace {

double clamp_unit(double x) { return std::clamp(x, -1.0, 1.0); }

/// Normalised position before the dead band; `reversed` not yet applied.
double normalise(const InputSpec& in, double width_us) {
  const double off = width_us - in.centre_us;
  return clamp_unit(off >= 0 ? off / (in.high_us - in.centre_us) : off / (in.centre_us - in.low_us));
}

/// The dead band is given in us about the centre, so its share of the travel may differ between the two sides.
double dead_band(const InputSpec& in, double width_us, double x) {
  if (in.dead_band == DeadBandKind::none) return x;
  const double off = std::abs(width_us - in.centre_us);
  if (off < in.dead_band_half_us) return 0;
  if (in.dead_band == DeadBandKind::jump) return x;
  const double d = in.dead_band_half_us / (x >= 0 ? in.high_us - in.centre_us : in.centre_us - in.low_us);
  if (d >= 1) return 0;
  return std::copysign(std::max(0.0, std::abs(x) - d) / (1 - d), x);
}

/// The blend law used only beyond saturation; derived to meet the golden vectors of the trade notes (see test_mixer).
void blend(double k, double& t, double& s) {
  const double m = std::abs(t) + std::abs(s);
  if (m <= 1) return;
  if (k >= 0.5) {
    const double w = 2 * k - 1;
    s = (1 - w) * s / m + w * s;
    t = std::copysign(std::min(std::abs(t), 1 - std::abs(s)), t);
  } else {
    const double w = 1 - 2 * k;
    t = (1 - w) * t / m + w * t;
    s = std::copysign(std::min(std::abs(s), 1 - std::abs(t)), s);
  }
}

/// `mix` with the steering's sign already settled.
Pair mix_signed(const MixerSpec& spec, double t, double s) {
  switch (spec.law) {
    case Law::clip:
      break;
    case Law::proportional: {
      const double m = std::max(1.0, std::abs(t) + std::abs(s));
      t /= m;
      s /= m;
      break;
    }
    case Law::throttle_priority:
      s = std::clamp(s, -(1 - std::abs(t)), 1 - std::abs(t));
      break;
    case Law::steering_priority:
      t = std::clamp(t, -(1 - std::abs(s)), 1 - std::abs(s));
      break;
    case Law::blend:
      blend(spec.blend, t, s);
      break;
    case Law::halved:
      t /= 2;
      s /= 2;
      break;
    default:
      break;
  }
  return {clamp_unit(t + s), clamp_unit(t - s)};
}

double output_us(const OutputSpec& out, double y) {
  if (y < 0) y *= out.reverse_limit;
  if (out.reversed) y = -y;
  const double mapped = out.neutral_us + y * (y >= 0 ? out.high_us - out.neutral_us : out.neutral_us - out.low_us);
  return std::clamp(mapped + out.trim_us, out.clamp_low_us, out.clamp_high_us);
}

void widen(Interval& range, double value) {
  range.low = std::min(range.low, value);
  range.high = std::max(range.high, value);
}

Interval stick_range(const InputSpec& in, double width_us, double half_us) {
  const double a = stick(in, width_us - half_us), b = stick(in, width_us + half_us);
  return {std::min(a, b), std::max(a, b)};  // monotonic in the width, jumps included: the ends bound all between
}

}  // namespace

double stick(const InputSpec& in, double width_us) {
  double x = dead_band(in, width_us, normalise(in, width_us));
  if (in.reversed) x = -x;
  return in.rate * (in.expo * x * x * x + (1 - in.expo) * x);
}

double width_for_stick(const InputSpec& in, double x) {
  x = clamp_unit(in.reversed ? -x : x);
  return in.centre_us + x * (x >= 0 ? in.high_us - in.centre_us : in.centre_us - in.low_us);
}

Pair mix(const MixerSpec& spec, double throttle, double steering) {
  const bool flip = spec.reverse_steering == ReverseSteering::car && throttle < 0;
  return mix_signed(spec, throttle, flip ? -steering : steering);
}

Outputs expected(const MixerSpec& spec, double throttle_us, double steering_us) {
  const Pair y = mix(spec, stick(spec.throttle, throttle_us), stick(spec.steering, steering_us));
  return {output_us(spec.left, y.left), output_us(spec.right, y.right)};
}

// Every law is monotonic in T and in S on either side of T = 0 (test_mixer holds it to that), so the corners of the box of
// sticks bound the outputs. Car-like steering jumps at T = 0: there both signs of S belong to the box.
OutputIntervals expected_within(const MixerSpec& spec, double throttle_us, double steering_us, double half_us) {
  const Outputs exact = expected(spec, throttle_us, steering_us);
  OutputIntervals range{{exact.left_us, exact.left_us}, {exact.right_us, exact.right_us}};
  const Interval t = stick_range(spec.throttle, throttle_us, half_us);
  const Interval s = stick_range(spec.steering, steering_us, half_us);
  const auto visit = [&](double throttle, double steering) {
    const Pair y = mix_signed(spec, throttle, steering);
    widen(range.left, output_us(spec.left, y.left));
    widen(range.right, output_us(spec.right, y.right));
  };
  const bool car = spec.reverse_steering == ReverseSteering::car;
  for (const double steering : {s.low, s.high}) {
    for (const double throttle : {t.low, t.high}) visit(throttle, car && throttle < 0 ? -steering : steering);
    if (car && t.low < 0 && t.high >= 0)
      for (const double sign : {1.0, -1.0}) visit(0, sign * steering);
  }
  return range;
}

}  // namespace midstick::mixer
