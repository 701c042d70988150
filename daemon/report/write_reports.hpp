// Writes all four report files of a run: report.json, junit.xml, report.html, capture.vcd.
//
// Each file is replaced atomically and synced (store/files.hpp), report.json last, so whoever sees a new report.json sees the others too.
// The folder must exist. Error{io} names the file; files before it have then been replaced, it and those after have not.
#pragma once

#include <filesystem>

#include "daemon/core/result.hpp"
#include "daemon/report/source.hpp"

namespace midstick::report {

Status write_reports(const std::filesystem::path& folder, const Source& source);

}  // namespace midstick::report
