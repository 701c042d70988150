// A run on disk: one folder, complete or marked incomplete, whatever instant the power goes.
//
//   run.json       {"format", "state": "incomplete" | "complete", "started", "address", ...}   written first and replaced last
//   plan.json      plan, mixer spec, controller and sticks as they were, defaults filled in
//   capture.json   store/capture_file; or capture.json.zst, store/packed_file; none when the rules of retention let it go
//   report.json, junit.xml, report.html, capture.vcd   written by report/
// A folder appears under its final name only with run.json "incomplete" inside (built beside it, then renamed); the state becomes
// "complete" by one atomic replacement after everything else is on disk. Errors are Error{io} or, when reading, Error{bad_file}.
#pragma once

#include <filesystem>
#include <nlohmann/json_fwd.hpp>
#include <string>

#include "daemon/capture/capture.hpp"
#include "daemon/core/result.hpp"

namespace midstick::store {

class RunFolder {
 public:
  /// Create `path` (must not exist, or be an empty folder) holding an incomplete run. `about` goes into run.json.
  static Result<RunFolder> create(const std::filesystem::path& path, const nlohmann::json& about);

  Status write_plan(const nlohmann::json& document) const;
  Status write_capture(const capture::Capture& capture) const;
  /// Mark the run complete. Call after every other file is written.
  Status complete() const;

  const std::filesystem::path& path() const { return path_; }

 private:
  explicit RunFolder(std::filesystem::path path, std::string about) : path_(std::move(path)), about_(std::move(about)) {}
  std::filesystem::path path_;
  std::string about_;  ///< run.json without its state, as JSON text
};

struct StoredRun {
  bool complete{false};
  std::string about;  ///< run.json as text
  std::string plan;   ///< plan.json as text
  capture::Capture capture;
};

/// Read a run back. An incomplete run without a capture is Error{bad_file} that says so; with one it is returned with complete == false.
Result<StoredRun> read_run(const std::filesystem::path& path);

}  // namespace midstick::store
