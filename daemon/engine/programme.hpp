// A plan turned into one timeline: a lead-in that powers the controller and lets it arm, then every check's sticks one after another.
//
// Pure: same plan and seed, same programme. Time base: ScriptTime, true time from the programme's start. Fails with Error{bad_file} when a
// check's sticks cannot be compiled, naming the check.
#pragma once

#include <cstdint>
#include <vector>

#include "daemon/core/result.hpp"
#include "daemon/script/plan.hpp"
#include "daemon/script/timeline.hpp"

namespace midstick::engine {

struct ProgrammeSegment {
  int check{0};  ///< index into Plan::checks
  int repeat{0};
  ScriptTime begin, end;
};

struct Programme {
  script::Timeline timeline;
  std::vector<ProgrammeSegment> segments;  ///< in the order they are played; none of a check that composes no moves
};

Result<Programme> compose(const script::Plan& plan, std::uint64_t seed);

/// Seed of one segment: differs by check and repeat, does not depend on the order they are played in.
std::uint64_t segment_seed(std::uint64_t seed, int check, int repeat);

}  // namespace midstick::engine
