// What the sticks do in a sweep: a probe that finds out how long this controller takes, then the course over its whole travel.
//
// Both are plain stick scripts with marks that say which leg a stretch belongs to. They know no mixer spec: names of channels come from
// the controller description, and everything about time that is not given is measured by the probe. The receiver's frames are dithered by
// a few microseconds, so that the controller's own counting never keeps step with the bench's and its rounding averages out.
// Pure; cannot fail. us and ms of true time.
#pragma once

#include <string>

#include "daemon/script/controller.hpp"
#include "daemon/script/stick_script.hpp"

namespace midstick::sweep {

struct Settings {
  double low_us{920}, centre_us{1500}, high_us{2080};  ///< swept; a little past the usual travel, so that a clipped end shows
  double stick_us{500};                                ///< usual travel to either side: of the probe's throws and of the grid
  double step_us{12.5};                                ///< of the slow sweep
  double fine_step_us{2}, fine_half_us{60};            ///< finer about the centre, where the edges of dead bands are
  double frame_us{20'000};                             ///< receiver frame
  double arm_ms{1000};                                 ///< first neutral hold of the probe; it tries twice and four times as long as well
  int grid{13};                                        ///< positions a side, 3..33
};

/// What the probe found out, ms. All from the start of the first frame that carries a new stick position.
struct Pace {
  double arm_ms{0};     ///< neutral hold after which the outputs followed
  double small_ms{0};   ///< until a small step is through: latency and filters
  double out_ms{0};     ///< until a throw from centre to an end is through: slew as well
  double back_ms{0};    ///< until a throw back to centre is
  double turn_ms{0};    ///< until a throw from end to end is through: rests between ahead and reverse as well
  double output_ms{0};  ///< output frame, the longest of all outputs
};

// Labels of marks; the name of the input follows, where there is one.
inline constexpr const char* kRest = "rest";
inline constexpr const char* kNudge = "nudge";
inline constexpr const char* kSmall = "small ";
inline constexpr const char* kThrow = "throw ";
inline constexpr const char* kSlowUp = "slow up ";
inline constexpr const char* kSlowDown = "slow down ";
inline constexpr const char* kFastUp = "fast up ";
inline constexpr const char* kFastDown = "fast down ";
inline constexpr const char* kTiny = "tiny ";
inline constexpr const char* kGrid = "grid";

/// Step of the leg that looks for the smallest step that shows.
inline constexpr double kTinyStepUs = 0.5;

/// Powers the controller, holds neutral until it should follow, throws each stick.
script::StickScript probe(const script::ControllerDescription& controller, const Settings& settings);

/// The end of a held position, in which its outputs are read: what comes before is latency, filters and a frame for good measure.
double read_ms(const Settings& settings, const Pace& pace);

/// Every input up and down, slow and fast, alone; then a grid over the first two.
script::StickScript course(const script::ControllerDescription& controller, const Settings& settings, const Pace& pace);

}  // namespace midstick::sweep
