// Random sticks on a bench until something fails, then the shortest script that still fails: what `midstick random` calls.
//
// Plays `runs` random scripts of the plan's mixer spec, each a run of its own with folder and report. At the first that fails, shrinks it
// on the same bench and keeps the result. In `out`:
//   random-N.json, random-N-plan.json, random-N/       each random script, the plan that plays it, its run folder
//   shrunk.json, shrunk-plan.json, shrunk/             the same for what is left of the one that failed
// Any plan file here can be played again with run(). Single-threaded; blocks. Errors as run().
#pragma once

#include "daemon/engine/run.hpp"
#include "daemon/engine/shrink.hpp"

namespace midstick::engine {

struct RandomRequest {
  RunRequest run;         ///< `plan`: whose mixer spec, controller and frame count; its checks are not played. `out`: a new or empty folder
  double for_ms{60'000};  ///< length of a random script
  int runs{1};
  int shrink_runs{80};  ///< at most
  std::function<void(const ShrinkProgress&)> on_shrink;
};

struct RandomOutcome {
  RunOutcome run;  ///< of the last random script, or of the shrunk one
  std::filesystem::path folder;
  int played{0};                     ///< random scripts
  std::uint64_t seed{0};             ///< of the last of them
  std::optional<Shrunk> shrunk;      ///< of the one that failed
  std::filesystem::path plan_again;  ///< plays what `run` is about
};

Result<RandomOutcome> random_run(const RandomRequest& request, const std::atomic<bool>& stop);

}  // namespace midstick::engine
