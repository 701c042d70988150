// The whole calibration: bench, rounds, study, files. What `midstick calibrate` calls.
//
// Writes calibration.json (store/calibration_file.hpp), certificate.html and certificate.json into `out`, over older ones. Powers nothing;
// drives the stimulus lines, so no controller may be wired to them. Single-threaded; blocks for some minutes with a person, a second on the
// virtual bench. Errors: usage (no name for the board), bench_missing, bench_unfit (a jumper, or stamps off by more than the board
// promises), stopped, io.
#pragma once

#include <atomic>
#include <filesystem>
#include <functional>
#include <string>

#include "daemon/calibrate/certificate.hpp"
#include "daemon/engine/open_bench.hpp"

namespace midstick::calibrate {

struct CalibrateRequest {
  std::string bench;
  std::filesystem::path out;  ///< folder; empty: where `run` looks for it (engine/bench_calibration.hpp)
  std::string board;          ///< name, where the port has no serial number
  int supply_mv{0};           ///< of the board, as the person read it; 0: not read
  int valid_days{365};        ///< 1..3650
  bool has_source{true};      ///< a source of servo pulses is at hand; without one pin change lines keep the board's bounds
  engine::VirtualConditions conditions;
  std::function<bool(const std::string&)> ask;  ///< shows a prompt, waits; false: stop. Not called on the virtual bench
};

struct CalibrateOutcome {
  Certificate certificate;
  std::filesystem::path folder;
};

Result<CalibrateOutcome> calibrate(const CalibrateRequest& request, const std::atomic<bool>& stop);

}  // namespace midstick::calibrate
