// What every report is written from: the plan, what the bench recorded, what the judge said, and when and where it happened.
//
// Borrowed references: the caller keeps all four alive while a report is written. Plain values, no threads, nothing here fails.
// Every report is a pure function of a Source, so two runs of the same plan, seed and images give the same text but for when and where
// and the bench's address.
#pragma once

#include <cstdint>
#include <string>

#include "daemon/judge/check.hpp"

namespace midstick::report {

/// What neither plan nor capture knows. When and where are all that may differ between two runs of the same plan, seed, images and build.
struct RunFacts {
  std::string started;   ///< ISO 8601, UTC: "2026-03-01T21:00:00Z"
  std::string finished;  ///< likewise
  std::string host;      ///< name of the computer that ran it
  std::string folder;    ///< run folder
  std::string build{};   ///< the controller's build, as the person who ran it calls it; may be empty. The same for the same request
};

struct Source {
  const script::Plan& plan;
  const capture::Capture& capture;
  const judge::RunResult& result;
  const RunFacts& facts;
  std::string program;  ///< name and version that wrote it: "midstick 0.1.0"
};

/// Microseconds of true time from the start of the capture to `at`.
double us_since_start(const capture::Capture& capture, BoardTime at);

/// Length of the whole capture, ms of true time.
double run_ms(const capture::Capture& capture);

/// Board time that the check of this name took, all repeats together, ms of true time; 0 when the run never reached it.
double check_ms(const Source& source, const std::string& check_name);

/// The measure that decided, or null when the check measured nothing.
const judge::Measure* headline(const judge::CheckResult& check);

/// "virtual" or "serial": the part of the bench's address that is not a place.
std::string bench_kind(const capture::Capture& capture);

/// Number of checks with this verdict.
int count(const judge::RunResult& result, judge::Verdict verdict);

}  // namespace midstick::report
