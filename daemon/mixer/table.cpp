// Law table: output widths measured on a grid of stick positions, bilinear between them.
#include <algorithm>
#include <cmath>

#include "daemon/mixer/stages.hpp"

namespace midstick::mixer {
namespace {

/// Place of `x` on a rising axis: between `cell` and `cell + 1`, `share` of the way. Beyond the ends: at the end.
struct Place {
  std::size_t cell;
  double share;
};

Place place_on(const std::vector<double>& axis, double x) {
  const auto after = std::upper_bound(axis.begin() + 1, axis.end() - 1, x);
  const auto cell = static_cast<std::size_t>(after - axis.begin()) - 1;
  return {cell, std::clamp((x - axis[cell]) / (axis[cell + 1] - axis[cell]), 0.0, 1.0)};
}

double bilinear(const std::vector<std::vector<double>>& us, Place t, Place s) {
  const auto along = [&](const std::vector<double>& row) { return std::lerp(row[s.cell], row[s.cell + 1], s.share); };
  return std::lerp(along(us[t.cell]), along(us[t.cell + 1]), t.share);
}

/// The ends of a range and the positions of the axis inside it: a bilinear surface is largest and smallest there.
std::vector<double> corners(const std::vector<double>& axis, Interval range) {
  std::vector<double> points{range.low, range.high};
  std::copy_if(axis.begin(), axis.end(), std::back_inserter(points), [&](double x) { return range.contains(x); });
  return points;
}

}  // namespace

Outputs from_table(const MixerSpec& spec, double throttle, double steering) {
  const Place t = place_on(spec.table.throttle, throttle);
  const Place s = place_on(spec.table.steering, steering_for_law(spec, throttle, steering));
  return {std::clamp(bilinear(spec.table.left, t, s), spec.left.clamp_low_us, spec.left.clamp_high_us),
          std::clamp(bilinear(spec.table.right, t, s), spec.right.clamp_low_us, spec.right.clamp_high_us)};
}

OutputIntervals from_table_within(const MixerSpec& spec, Interval throttle, Interval steering) {
  OutputIntervals range{{spec.left.clamp_high_us, spec.left.clamp_low_us}, {spec.right.clamp_high_us, spec.right.clamp_low_us}};
  for (const Half& half : halves(throttle)) {
    const Interval scaled = steering_for_law_within(spec, half.throttle, steering, half.backwards);
    for (const double t : corners(spec.table.throttle, half.throttle))
      for (const double s : corners(spec.table.steering, scaled)) {
        const Place at_t = place_on(spec.table.throttle, t), at_s = place_on(spec.table.steering, s);
        widen(range.left, std::clamp(bilinear(spec.table.left, at_t, at_s), spec.left.clamp_low_us, spec.left.clamp_high_us));
        widen(range.right, std::clamp(bilinear(spec.table.right, at_t, at_s), spec.right.clamp_low_us, spec.right.clamp_high_us));
      }
  }
  return range;
}

}  // namespace midstick::mixer
