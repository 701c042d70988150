// The records as files for other programs: one JSON document, or three CSV tables (RFC 4180, UTF-8).
//
// Runs oldest first, with their checks and metrics. Times are UTC, RFC 3339 with milliseconds; numbers read back exactly. Files are
// replaced as a whole or not at all. Reads page by page: runs that are added meanwhile may be missing, none is there twice.
#pragma once

#include <filesystem>

#include "daemon/core/result.hpp"
#include "daemon/store/records.hpp"

namespace midstick::store {

/// All runs of `filter`; its limit is not used.
Status export_json(Records& records, const RunFilter& filter, const std::filesystem::path& file);

/// runs.csv, checks.csv and metrics.csv in `folder`, which is made; checks and metrics name their run in the first column.
Status export_csv(Records& records, const RunFilter& filter, const std::filesystem::path& folder);

/// Copies the folders of the runs of `filter` from `runs` to `to`, each named by its run's id. One that is not there is left out.
Status export_folders(Records& records, const RunFilter& filter, const std::filesystem::path& runs, const std::filesystem::path& to);

}  // namespace midstick::store
