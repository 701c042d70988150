// From a pulse width to a stick position. Formulas: common practice, no source.
#include <algorithm>
#include <cmath>

#include "daemon/mixer/model.hpp"

namespace midstick::mixer {
namespace {

double travel_us(const InputSpec& in, bool long_side) { return long_side ? in.high_us - in.centre_us : in.centre_us - in.low_us; }

double square_and_expo(const InputSpec& in, double x) {
  if (in.square) x = std::copysign(x * x, x);
  return in.expo * x * x * x + (1 - in.expo) * x;
}

/// Position `x` > 0 after dead band and curve; `d` is the band's half width as a share of this side's travel. Monotonic in x.
double shaped(const InputSpec& in, double x, double d) {
  switch (in.dead_band) {
    case DeadBandKind::none:
      return square_and_expo(in, x);
    case DeadBandKind::jump:
    case DeadBandKind::hysteresis:
      return x < d ? 0 : square_and_expo(in, x);
    case DeadBandKind::continuous:
      return x < d || d >= 1 ? 0 : square_and_expo(in, (x - d) / (1 - d));
    case DeadBandKind::curve: {
      const double at_edge = square_and_expo(in, d);
      return x < d || d >= 1 ? 0 : (square_and_expo(in, x) - at_edge) / (1 - at_edge);
    }
    case DeadBandKind::soft:
      return square_and_expo(in, x * std::pow(x * (1 + in.dead_band_softness) / (x + in.dead_band_softness), 8));
  }
  return x;
}

/// The dead band is given in us about the centre, so its share of the travel may differ between the two sides.
double stick_with_band(const InputSpec& in, double width_us, double half_us) {
  const bool long_side = width_us >= in.centre_us;
  const double off = std::abs(width_us - in.centre_us), travel = travel_us(in, long_side);
  if (off < half_us && in.dead_band != DeadBandKind::none && in.dead_band != DeadBandKind::soft) return 0;
  const double x = in.rate * shaped(in, std::min(1.0, off / travel), std::min(off, half_us) / travel);
  return long_side != in.reversed ? x : -x;
}

}  // namespace

double stick(const InputSpec& in, double width_us) { return stick_with_band(in, width_us, in.dead_band_half_us); }

// A stick is monotonic in the width, jumps included, so the ends bound all between. A hysteresis is one jump inside another.
Interval stick_within(const InputSpec& in, Interval width_us) {
  const double h = in.dead_band == DeadBandKind::hysteresis ? in.dead_band_hysteresis_us : 0;
  Interval range{1, -1};
  for (const double width : {width_us.low, width_us.high})
    for (const double half : {std::max(0.0, in.dead_band_half_us - h), in.dead_band_half_us + h}) {
      const double x = stick_with_band(in, width, half);
      range = {std::min(range.low, x), std::max(range.high, x)};
    }
  return range;
}

double width_for_stick(const InputSpec& in, double x) {
  x = std::clamp(in.reversed ? -x : x, -1.0, 1.0);
  return in.centre_us + x * travel_us(in, x >= 0);
}

}  // namespace midstick::mixer
