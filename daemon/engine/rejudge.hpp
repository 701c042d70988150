// Judging a stored run again, under its own mixer spec or another one.
//
// Reads the run folder, changes nothing in it. Same files, same answer. Error{bad_file} when the folder is not a run or the spec does not
// fit it.
#pragma once

#include <filesystem>

#include "daemon/core/result.hpp"
#include "daemon/judge/check.hpp"

namespace midstick::engine {

struct Rejudged {
  script::Plan plan;
  capture::Capture capture;
  judge::RunResult result;
  std::string report_json;
};

/// `spec` empty: the run's own. `out` not empty: reports are written there (made if missing).
Result<Rejudged> rejudge(const std::filesystem::path& run, const std::filesystem::path& spec, const std::filesystem::path& out);

}  // namespace midstick::engine
