// Slices of a stored run for the page: pulses of every line and its silences, what the mixer spec and the check's tolerance allow, what the
// ESC makes of them.
//
// A capture is large and is asked for many times while somebody zooms, so the newest few stay in memory. Safe to call from several threads;
// blocks (reads files, decompresses). Error{bad_file}: the run has no capture (any more).
#pragma once

#include <filesystem>
#include <list>
#include <memory>
#include <mutex>
#include <nlohmann/json_fwd.hpp>

#include "daemon/capture/capture.hpp"
#include "daemon/core/result.hpp"
#include "daemon/script/plan.hpp"

namespace midstick::service {

struct StoredEvidence {
  script::Plan plan;
  capture::Capture capture;
};

struct Slice {
  double from_ms{0}, to_ms{1e12};  ///< of true time since the capture began; `to` beyond its end means the end
  int points{1000};                ///< most pulses a line; of more, the narrowest and widest of each stretch are kept
};

/// Pulses of the API. `run`: its id. Pure.
nlohmann::json pulses_answer(const StoredEvidence& evidence, std::int64_t run, Slice slice);

class Evidence {
 public:
  Result<std::shared_ptr<const StoredEvidence>> of(const std::filesystem::path& folder);

 private:
  static constexpr std::size_t kKept = 3;  ///< some ten MB each
  std::mutex mutex_;
  std::list<std::pair<std::filesystem::path, std::shared_ptr<const StoredEvidence>>> kept_;  ///< newest first
};

}  // namespace midstick::service
