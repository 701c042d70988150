// How long evidence is kept. Evidence is a run's capture, the bulk of its folder; report.html, report.json, junit.xml, plan.json and
// run.json stay for good. The prepare command's log, beside the runs' folder, goes with the capture.
//
// Captures go only in the order of Records::droppable, so that a failing run's goes after those of every passed and every inconclusive run,
// whichever rule asks. An old failing run therefore outlives the rule of days while a younger passed run has a capture, and goes when only
// room is left to be made. Call on a worker; touches files and the database.
#pragma once

#include <cstdint>
#include <filesystem>
#include <vector>

#include "daemon/core/result.hpp"
#include "daemon/store/records.hpp"

namespace midstick::store {

struct KeepRules {
  int days{0};            ///< captures of runs that ended longer ago may go; 0: no rule
  std::int64_t bytes{0};  ///< of all run folders together; 0: no rule
};

struct Kept {
  std::vector<std::int64_t> dropped;  ///< runs that lost their capture now, in that order
  std::int64_t bytes{0};              ///< what all run folders hold now, as the records say
  bool over{false};                   ///< still over the rule of bytes, with no capture left to drop
};

/// `runs`: the folder of run folders, each named by its run's id. Deletes first and notes it after, so a kill between is made good by the
/// next call.
Result<Kept> keep_within(Records& records, const std::filesystem::path& runs, const KeepRules& rules, UnixMs now);

/// Bytes of the files in a run's folder; 0 when there is none.
std::int64_t folder_bytes(const std::filesystem::path& run_folder);

}  // namespace midstick::store
