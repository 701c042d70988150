// The map of a receiver: what each channel sends at rest and at the ends of its stick, while a person moves it, told by prompts.
//
// receiver_map_of() is pure: from the capture of receiver_steps() (engine/record.hpp listens) to the map. Channel n is wired to capture
// line n. Widths are us of true time, U 95 %. Fails with bench_unfit when a step is missing, a channel gave no pulses, or an end was not
// held.
#pragma once

#include <string>
#include <vector>

#include "daemon/capture/capture.hpp"
#include "daemon/core/result.hpp"
#include "daemon/engine/receiver_study.hpp"
#include "daemon/sweep/side_fit.hpp"

namespace midstick::sweep {

/// One thing that the person is asked to do, and its share of the whole time.
struct ReceiverStep {
  std::string mark, prompt;
  double share{0};
};
/// Rest; then for each channel: to one end and held, let go, to the other end and held, let go.
std::vector<ReceiverStep> receiver_steps(const std::vector<std::string>& channels);

struct ChannelMap {
  std::string name;
  Value low, centre, high;              ///< us; ends are where the stick was held
  Value trim;                           ///< centre less 1500 us
  Value back_from_low, back_from_high;  ///< rest after letting go of either end, less centre: how well the stick returns
  double jitter_us{0};                  ///< half of the middle 95 % of widths at rest
  double smallest_step_us{0};           ///< between neighbouring widths while it moved: the receiver's own resolution, or the bench's
  double others_us{0};                  ///< how far the other channels moved meanwhile: mixing in the transmitter
};

struct ReceiverMap {
  std::string name, bench;
  Value period_us;
  std::vector<ChannelMap> channels;
};

Result<ReceiverMap> receiver_map_of(const capture::Capture& recording, const std::vector<std::string>& channels, const std::string& name);

}  // namespace midstick::sweep
