// The mixing laws. Common practice, no source; where a law's formula was completed by us, the law says so.
#include <algorithm>
#include <cmath>

#include "daemon/mixer/stages.hpp"

namespace midstick::mixer {
namespace {

double clamp_unit(double x) { return std::clamp(x, -1.0, 1.0); }

/// Used only beyond saturation. Our own derivation: it meets the golden vectors of the law and joins the three simple laws.
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

/// Steering slows the inner side; below `limit` of throttle the pivot takes over. Completed by us from general knowledge.
Pair inner_wheel(double limit, double t, double s) {
  const double slowed = t * (1 - std::abs(s));
  const double pivot = limit > 0 ? std::max(0.0, 1 - std::abs(t) / limit) : t == 0 ? 1.0 : 0.0;
  return {(1 - pivot) * (s >= 0 ? t : slowed) + pivot * s, (1 - pivot) * (s <= 0 ? t : slowed) - pivot * s};
}

Pair curved(double t, double s) { return {t + std::abs(t) * s, t - std::abs(t) * s}; }

/// Before saturation; `s` has been scaled and turned already.
Pair sides(const MixerSpec& spec, double t, double s) {
  switch (spec.law) {
    case Law::clip:
    case Law::table:
      break;
    case Law::proportional: {
      const double m = std::max(1.0, std::abs(t) + std::abs(s));
      t /= m, s /= m;
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
      return {(t + s) / 2, (t - s) / 2};
    case Law::inner_wheel:
      return inner_wheel(spec.wheel_limit, t, s);
    case Law::curvature:
      return std::abs(t) < spec.quick_turn ? Pair{t + s, t - s} : curved(t, s);
    case Law::elevon:
      return {(t - s) / 2, (t + s) / 2};
    case Law::v_tail:
      return {spec.gain_t * t + spec.gain_s * s, spec.gain_t * t - spec.gain_s * s};
    case Law::matrix:
      return {spec.matrix[0][0] * t + spec.matrix[0][1] * s, spec.matrix[1][0] * t + spec.matrix[1][1] * s};
  }
  return {t + s, t - s};
}

/// Throttles, all of one sign, at which a side may be largest or smallest for one steering.
std::vector<double> turning_points(const MixerSpec& spec, Interval t, double s) {
  std::vector<double> points{t.low, t.high};
  const auto add = [&](double x) {
    if (t.contains(x)) points.push_back(x);
  };
  if (spec.law != Law::inner_wheel) return points;
  // Below the limit a side is a parabola in T: +-g T^2 / limit + (1 - |T| / limit) s, with g the share of T that the side keeps.
  for (const double kept : {1.0, 1 - std::abs(s)})
    if (kept > 0)
      for (const double sign : {1.0, -1.0}) add(sign * s / (2 * kept));
  for (const double sign : {1.0, -1.0}) add(sign * spec.wheel_limit);
  return points;
}

/// All pairs of one direction of travel. Every other law is monotonic in T and in S, or linear in pieces: the corners bound it.
void widen_by_half(const MixerSpec& spec, Interval t, Interval s, PairIntervals& range) {
  const auto take = [&](Pair y) { widen(range.left, clamp_unit(y.left)), widen(range.right, clamp_unit(y.right)); };
  std::vector<double> steerings{s.low, s.high};
  if (s.contains(0)) steerings.push_back(0);
  for (const double steering : steerings) {
    for (const double throttle : turning_points(spec, t, steering)) take(sides(spec, throttle, steering));
    if (spec.law == Law::inner_wheel && spec.wheel_limit == 0 && t.contains(0) && t.low < t.high) take({0, 0});  // just off the pivot
    if (spec.law != Law::curvature) continue;
    const double q = std::copysign(spec.quick_turn, t.low + t.high);  // on either side of the jump
    if (t.contains(q)) {
      take(curved(q, steering));
      if (std::min(std::abs(t.low), std::abs(t.high)) < std::abs(q)) take({q + steering, q - steering});
    }
  }
}

/// A law's us as a share of the output's travel.
double share_of_travel(const OutputSpec& out, double us) {
  const double off = us - out.neutral_us;
  const double y = off / (off >= 0 ? out.high_us - out.neutral_us : out.neutral_us - out.low_us);
  return clamp_unit(out.reversed ? -y : y);
}

}  // namespace

double steering_for_law(const MixerSpec& spec, double throttle, double steering) {
  const double u = std::abs(throttle), p = spec.pivot_scale;
  const double s = steering * (p + (1 - p) * u) * (1 - spec.speed_scale * u);
  return spec.reverse_steering == ReverseSteering::car && throttle < 0 ? -s : s;
}

Interval steering_for_law_within(const MixerSpec& spec, Interval throttle, Interval steering, bool backwards) {
  const double p = spec.pivot_scale, k = spec.speed_scale;
  const auto factor = [&](double u) { return (p + (1 - p) * u) * (1 - k * u); };
  const double a = std::abs(throttle.low), b = std::abs(throttle.high);
  Interval f{std::min(factor(a), factor(b)), std::max(factor(a), factor(b))};
  if (p < 1 && k > 0) {  // a parabola, open downwards
    const double top = (1 - p - k * p) / (2 * k * (1 - p));
    if (top > std::min(a, b) && top < std::max(a, b)) widen(f, factor(top));
  }
  const double low = std::min(steering.low * f.low, steering.low * f.high), high = std::max(steering.high * f.low, steering.high * f.high);
  return backwards && spec.reverse_steering == ReverseSteering::car ? Interval{-high, -low} : Interval{low, high};
}

std::vector<Half> halves(Interval throttle) {
  std::vector<Half> parts;
  if (throttle.low < 0) parts.push_back({{throttle.low, std::min(0.0, throttle.high)}, true});
  if (throttle.high >= 0) parts.push_back({{std::max(0.0, throttle.low), throttle.high}, false});
  return parts;
}

Pair mix(const MixerSpec& spec, double throttle, double steering) {
  if (spec.law == Law::table) {
    const Outputs y = from_table(spec, throttle, steering);
    return {share_of_travel(spec.left, y.left_us), share_of_travel(spec.right, y.right_us)};
  }
  const Pair y = sides(spec, throttle, steering_for_law(spec, throttle, steering));
  return {clamp_unit(y.left), clamp_unit(y.right)};
}

PairIntervals mix_within(const MixerSpec& spec, Interval throttle, Interval steering) {
  PairIntervals range{{1, -1}, {1, -1}};
  for (const Half& half : halves(throttle))
    widen_by_half(spec, half.throttle, steering_for_law_within(spec, half.throttle, steering, half.backwards), range);
  return range;
}

}  // namespace midstick::mixer
