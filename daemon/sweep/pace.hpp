// From a probe's capture: after which rest the controller armed, how long its outputs take, and whether they are slewed.
//
// Pure. Fails with bench_unfit when no output followed the first stick after any of the probe's rests, or none gives pulses.
#pragma once

#include "daemon/core/result.hpp"
#include "daemon/sweep/course.hpp"
#include "daemon/sweep/readings.hpp"
#include "daemon/sweep/side_fit.hpp"

namespace midstick::sweep {

/// How an output answers a throw, by the line through the middle of its change. 0: at once, as far as its frames can show.
struct Slew {
  Value out_us_s, back_us_s;  ///< away from neutral and towards it, us of output a second
  Value rest_ms;              ///< at neutral, between ahead and back
};

struct Probed {
  Pace pace;
  std::vector<std::vector<Slew>> slew;  ///< by input, by output
  std::vector<double> frame_ms;         ///< by output, median
  std::vector<double> neutral_us;       ///< by output, at rest
};

Result<Probed> pace_of(const Lines& lines, const std::vector<Leg>& probe, const script::ControllerDescription& controller,
                       const Settings& settings);

}  // namespace midstick::sweep
