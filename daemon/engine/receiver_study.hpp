// What a recorded receiver does, and a stick script that plays it again.
//
// Pure: from the capture of a recording (record.hpp) to findings. Channel n is the nth input of the controller description, wired to
// capture line n (R1, R2, P1 ..). Widths and times are us of true time. Fails with bench_unfit when a channel gave no pulses at rest or a
// step of the recording is missing. A loss that fits none of the names of script/receiver.hpp is left unnamed, and is not in the script.
#pragma once

#include <map>
#include <string>
#include <vector>

#include "daemon/capture/capture.hpp"
#include "daemon/core/result.hpp"
#include "daemon/mixer/spec.hpp"
#include "daemon/script/stick_script.hpp"

namespace midstick::engine {

/// Marks of a recording, in this order; each step lasts to the next mark, the last to the segment's end.
struct RecordStep {
  const char* mark;
  const char* prompt;  ///< what the person is to do
  double share;        ///< of the whole time
};
inline constexpr RecordStep kRecordSteps[] = {
    {"rest", "Release both sticks and leave them alone.", 0.12},
    {"travel", "Move each stick slowly to both ends, one after the other, then let go.", 0.38},
    {"held", "Hold every stick about half way to one end, and keep holding.", 0.12},
    {"off", "Still holding: switch the transmitter OFF.", 0.25},
    {"on", "Still holding: switch the transmitter ON again.", 0.13},
};

struct ChannelFinding {
  std::string name;
  double low_us{0}, centre_us{0}, high_us{0};
  double jitter_us{0};  ///< half of the middle 95 % of widths at rest
  double phase_us{0};   ///< rise after the frame's start, which is 200 us before the first channel's
  double held_us{0};
};

struct ReceiverFinding {
  double period_us{0};
  double period_spread_us{0};  ///< half of the middle 95 %
  script::ReceiverFrame::Order order{};
  bool own_phases{false};  ///< none of the orders fits: each channel has its phase
  double overlap_us{0};
  std::vector<ChannelFinding> channels;
  std::string loss, recovery;            ///< names of script/receiver.hpp; "" not recognised
  std::map<std::string, double> preset;  ///< widths sent while the link was lost, where they looked valid
  std::vector<std::string> notes;        ///< for a person, a line each; also the header of the file
  script::StickScript script;
};

Result<ReceiverFinding> study(const capture::Capture& recording, const std::vector<std::string>& channels, const mixer::MixerSpec& spec,
                              const std::string& name);

}  // namespace midstick::engine
