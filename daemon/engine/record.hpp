// Records a real receiver: its channels wired to the bench's capture lines, a person at the transmitter, a stick script as the result.
//
// Makes no pulse and powers nothing; the receiver has its own supply. listen() is the part on the bench, study() the part on data.
// Single-threaded; blocks for the time asked. Errors as Session and study() give them; usage when the file is there already.
#pragma once

#include <atomic>
#include <filesystem>
#include <functional>
#include <span>
#include <string>

#include "daemon/engine/open_bench.hpp"
#include "daemon/engine/receiver_study.hpp"
#include "daemon/engine/session.hpp"

namespace midstick::engine {

struct RecordRequest {
  std::string bench, controller, mixer;  ///< address; paths of the controller description (names of channels) and the mixer spec
  std::filesystem::path out;
  double seconds{60};  ///< 20..600, all steps together
  VirtualConditions conditions;
  std::function<void(const std::string&)> on_notice;  ///< prompts and cautions, for a person
};

/// Captures `channels` lines through all steps. `on_step` is called when one begins. The session is greeted and its clock settled.
Result<capture::Capture> listen(Session& session, std::size_t channels, double seconds,
                                const std::function<void(const RecordStep&)>& on_step, std::span<const RecordStep> steps = kRecordSteps);

/// Everything: bench, prompts, study, file.
Result<ReceiverFinding> record(const RecordRequest& request, const std::atomic<bool>& stop);

}  // namespace midstick::engine
