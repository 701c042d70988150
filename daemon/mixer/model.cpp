#include "daemon/mixer/model.hpp"

#include <algorithm>
#include <cmath>

#include "daemon/mixer/stages.hpp"

namespace midstick::mixer {
namespace {

constexpr double kNothing = 1e-9;  // sums that should be 0 and are not, by rounding, must not start an output

std::vector<double> filled(const MixerSpec& spec, std::span<const double> widths_us) {
  std::vector<double> all;
  for (const InputSpec* in : inputs(spec)) all.push_back(all.size() < widths_us.size() ? widths_us[all.size()] : in->centre_us);
  return all;
}

/// Range of a weighted sum of sticks, saturated.
Interval weighted(const std::vector<double>& row, const std::vector<Interval>& sticks) {
  Interval y;
  for (std::size_t i = 0; i < sticks.size(); ++i) {
    const double a = row[i] * sticks[i].low, b = row[i] * sticks[i].high;
    y.low += std::min(a, b), y.high += std::max(a, b);
  }
  return {std::clamp(y.low, -1.0, 1.0), std::clamp(y.high, -1.0, 1.0)};
}

/// Law matrix: every output from ranges of all sticks.
std::vector<Interval> by_matrix(const MixerSpec& spec, const std::vector<Interval>& sticks) {
  const auto outs = outputs(spec);
  std::vector<Interval> ranges;
  for (const Half& half : halves(sticks[0])) {
    std::vector<Interval> part = sticks;
    part[0] = half.throttle;
    part[1] = steering_for_law_within(spec, half.throttle, sticks[1], half.backwards);
    for (std::size_t i = 0; i < outs.size(); ++i) {
      const Interval us = output_within(*outs[i], weighted(spec.matrix[i], part));
      if (ranges.size() <= i) ranges.push_back(us);
      widen(ranges[i], us.low), widen(ranges[i], us.high);
    }
  }
  return ranges;
}

}  // namespace

double output_us(const OutputSpec& out, double y) {
  if (y < 0) y *= out.reverse_limit;
  if (std::abs(y) < kNothing)
    y = 0;
  else
    y = std::copysign(out.start_offset + std::abs(y) * (1 - out.start_offset), y);
  if (out.reversed) y = -y;
  const double mapped = out.neutral_us + y * (y >= 0 ? out.high_us - out.neutral_us : out.neutral_us - out.low_us);
  return std::clamp(mapped + out.trim_us, out.clamp_low_us, out.clamp_high_us);
}

Interval output_within(const OutputSpec& out, Interval y) {
  const double a = output_us(out, y.low), b = output_us(out, y.high);
  return {std::min(a, b), std::max(a, b)};
}

Outputs expected(const MixerSpec& spec, double throttle_us, double steering_us) {
  const double t = stick(spec.throttle, throttle_us), s = stick(spec.steering, steering_us);
  if (spec.law == Law::table) return from_table(spec, t, s);
  const Pair y = mix(spec, t, s);
  return {output_us(spec.left, y.left), output_us(spec.right, y.right)};
}

OutputIntervals expected_within(const MixerSpec& spec, double throttle_us, double steering_us, double half_us) {
  return outputs_within(spec, stick_within(spec.throttle, {throttle_us - half_us, throttle_us + half_us}),
                        stick_within(spec.steering, {steering_us - half_us, steering_us + half_us}));
}

OutputIntervals outputs_within(const MixerSpec& spec, Interval throttle, Interval steering) {
  if (spec.law == Law::table) return from_table_within(spec, throttle, steering);
  const PairIntervals y = mix_within(spec, throttle, steering);
  return {output_within(spec.left, y.left), output_within(spec.right, y.right)};
}

std::vector<double> expected_all(const MixerSpec& spec, std::span<const double> widths_us) {
  const auto widths = filled(spec, widths_us);
  if (spec.law != Law::matrix) {
    const Outputs y = expected(spec, widths[0], widths[1]);
    return {y.left_us, y.right_us};
  }
  std::vector<double> sticks;
  const auto ins = inputs(spec);
  for (std::size_t i = 0; i < ins.size(); ++i) sticks.push_back(stick(*ins[i], widths[i]));
  sticks[1] = steering_for_law(spec, sticks[0], sticks[1]);
  std::vector<double> all;
  for (const OutputSpec* out : outputs(spec)) {
    double y = 0;
    for (std::size_t i = 0; i < sticks.size(); ++i) y += spec.matrix[all.size()][i] * sticks[i];
    all.push_back(output_us(*out, std::clamp(y, -1.0, 1.0)));
  }
  return all;
}

std::vector<Interval> expected_all_within(const MixerSpec& spec, std::span<const double> widths_us, double half_us) {
  const auto widths = filled(spec, widths_us);
  if (spec.law != Law::matrix) {
    const OutputIntervals y = expected_within(spec, widths[0], widths[1], half_us);
    return {y.left, y.right};
  }
  std::vector<Interval> sticks;
  const auto ins = inputs(spec);
  for (std::size_t i = 0; i < ins.size(); ++i) sticks.push_back(stick_within(*ins[i], {widths[i] - half_us, widths[i] + half_us}));
  return by_matrix(spec, sticks);
}

}  // namespace midstick::mixer
