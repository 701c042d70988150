// From a stick script that fails to the shortest and plainest one that still does.
//
// First everything after the first failing instant goes, then everything but the last few moves, then halves, quarters and single
// moves; what is left is made plain: no faults or actions that are not needed, holds for ramps and swings, sticks at 0, 50 or 100 percent,
// round times. Each step is kept only when the script still fails. Deterministic; never judges by itself: `fails` asks the bench, once for
// each different script, at most `most_runs` times. Single-threaded; blocks as long as `fails` does.
#pragma once

#include <functional>

#include "daemon/core/result.hpp"
#include "daemon/mixer/spec.hpp"
#include "daemon/script/stick_script.hpp"

namespace midstick::engine {

/// Does this script fail? A script that cannot be played does not. Error: the bench cannot go on.
using Fails = std::function<Result<bool>(const script::StickScript&)>;

struct ShrinkProgress {
  int runs{0}, most_runs{0};
  std::size_t moves{0};  ///< of the best script so far
  double length_ms{0};
};

struct Shrunk {
  script::StickScript script;
  int runs{0};
  bool ran_out{false};     ///< of runs, before nothing more could be left out
  bool reproduced{false};  ///< the result failed twice more
};

struct ShrinkRequest {
  script::StickScript failing;
  mixer::MixerSpec spec;   ///< ends and centres of the sticks
  double fails_at_ms{-1};  ///< first failing instant after the script's begin; negative: not known
  int most_runs{80};       ///< without the two that reproduce
};

Result<Shrunk> shrink(const ShrinkRequest& request, const Fails& fails, const std::function<void(const ShrinkProgress&)>& on_progress);

}  // namespace midstick::engine
