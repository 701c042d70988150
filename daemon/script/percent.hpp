// Percent of stick travel to pulse width and back, by the mixer spec's endpoints. -100 low, 0 centre, +100 high; beyond is over-travel
// along the same lines. A reversed stick has -100 at its long end. Inputs that the spec does not name use 1000/1500/2000 us (common
// practice, no source). Pure; the result may be out of any range, which compile() refuses.
#pragma once

#include <string>

#include "daemon/mixer/spec.hpp"

namespace midstick::script {

inline double width_of_percent(const mixer::InputSpec& in, double percent) {
  const double x = (in.reversed ? -percent : percent) / 100;
  return in.centre_us + x * (x < 0 ? in.centre_us - in.low_us : in.high_us - in.centre_us);
}

/// The spec's input of that name, or one with the usual endpoints.
inline mixer::InputSpec input_named(const mixer::MixerSpec& spec, const std::string& name) {
  for (const mixer::InputSpec* in : mixer::inputs(spec))
    if (in->name == name) return *in;
  return {};
}

inline double width_of_percent(const mixer::MixerSpec& spec, const std::string& input, double percent) {
  return width_of_percent(input_named(spec, input), percent);
}

/// The inverse: the percent of an input's pulse width.
inline double percent_of_width(const mixer::MixerSpec& spec, const std::string& input, double width_us) {
  const mixer::InputSpec in = input_named(spec, input);
  const double off = width_us - in.centre_us;
  const double x = 100 * off / (off < 0 ? in.centre_us - in.low_us : in.high_us - in.centre_us);
  return in.reversed ? -x : x;
}

}  // namespace midstick::script
