// The whole job: plan in, run folder out. What `midstick run` and `midstickd` call.
//
// Order: read every file, open the bench, greet, measure the clock, and only then power and pulses. Single-threaded; blocks.
// Error means that nothing was judged (and nothing is powered any more); a run cut short after it began is judged on what there is, marked
// incomplete in its folder, and carries `cut_short`.
#pragma once

#include <atomic>
#include <cstdint>
#include <filesystem>
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "daemon/core/result.hpp"
#include "daemon/engine/open_bench.hpp"
#include "daemon/engine/player.hpp"
#include "daemon/judge/check.hpp"
#include "daemon/store/run_folder.hpp"

namespace midstick::engine {

struct RunProgress {
  std::string check;               ///< "" during the lead-in
  int number{0}, of{0};            ///< 1-based segment
  double done_ms{0}, total_ms{0};  ///< board time
  const Glimpse& glimpse;
  const script::ControllerDescription& controller;
};

struct RunRequest {
  std::filesystem::path plan;
  std::string document;           ///< JSON of an earlier run's plan.json, played in place of `plan`, which then only names it
  std::vector<std::string> only;  ///< names of the checks to play; empty: what the plan says
  std::string bench;
  std::filesystem::path out;          ///< run folder to make; empty: a new one below midstick-runs/
  std::optional<std::uint64_t> seed;  ///< replaces the plan's
  std::string build;                  ///< label of the controller's build, kept in the run for `midstick trend`; may be empty
  std::optional<std::string> mixer;   ///< path of a mixer spec, in place of the plan's
  std::filesystem::path calibration;  ///< file; empty: the one kept for the board, if there is one (bench_calibration.hpp)
  std::string board;                  ///< name of the board, where its USB port has no serial number
  bool hand{false};                   ///< a person is there to do what pins cannot
  VirtualConditions conditions;
  std::function<void(const RunProgress&)> on_progress;
  std::function<void(const std::string&)> on_notice;  ///< cautions and steps, for a person
};

struct RunOutcome {
  judge::RunResult result;
  std::filesystem::path folder;
  std::optional<Error> cut_short;
  std::string report_json;
};

Result<RunOutcome> run(const RunRequest& request, const std::atomic<bool>& stop);

/// The two halves of run(): the bench is free after the first, the second needs none and may run elsewhere.
struct PlayedRun {
  script::Plan plan;
  store::RunFolder folder;
  capture::Capture capture;
  std::optional<Error> cut_short;
  std::string started, build;
};
Result<PlayedRun> play_run(const RunRequest& request, const std::atomic<bool>& stop);
Result<RunOutcome> judge_played(PlayedRun played);

/// The plan that a request names, for the bench and under the seed that it names.
Result<script::Plan> plan_for(const RunRequest& request);

/// Play and judge a plan without keeping anything. Of the request, bench, conditions and the two callbacks count.
struct TryOutcome {
  judge::RunResult result;
  capture::Capture capture;
  std::optional<Error> cut_short;
};
Result<TryOutcome> try_out(const script::Plan& plan, const RunRequest& request, const std::atomic<bool>& stop);

/// 0 pass, 1 fail, 2 inconclusive or stopped by the operator, 3 bench unfit.
int exit_code(const RunOutcome& outcome);

}  // namespace midstick::engine
