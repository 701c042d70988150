// Random pulses on any number of lines of the virtual bench, read by the board, with the truth beside each reading.
//
// No controller: pulses on the response lines are injected at any picosecond, so nothing keeps step with the board's clock unless a scene
// asks for it. Same scene, same readings. For tests.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "daemon/capture/capture.hpp"
#include "fixtures/virtual/bench.hpp"

namespace midstick::calibrate {

struct Scene {
  double board_ppm{0};
  int stimulus_lines{1};      ///< that play, 0..6: the load
  std::uint8_t responses{3};  ///< mask of response lines with pulses
  double seconds{4};
  std::uint64_t seed{1};
  std::int64_t usb_slot_us{0};
};

/// An edge as read and as it was.
struct SeenEdge {
  capture::Edge read;
  std::int64_t true_ps{0};
};

struct Seen {
  capture::Capture capture;
  std::vector<std::vector<SeenEdge>> stimulus, response;  ///< by line, in order; a line without pulses is empty
  double true_ns_per_tick{0};
  std::string trouble;  ///< not empty: the scene could not be read

  /// As `run` does it with a capture, the edges beside their truth likewise.
  void correct(const capture::Calibration& calibration);
};

Seen play_scene(const Scene& scene);

}  // namespace midstick::calibrate
