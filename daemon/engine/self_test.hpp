// Who is on the bench, what it can do, and whether it is fit: what `midstick bench` shows.
//
// Starts an empty run (no pulse, no controller power) to hear the board's own state, then stops it. Single-threaded; a few seconds.
// Error only when no board of ours answers; an unfit board is an answer.
#pragma once

#include <string>
#include <vector>

#include "daemon/capture/capture.hpp"
#include "daemon/clock/clock_map.hpp"
#include "daemon/core/result.hpp"
#include "daemon/engine/session.hpp"

namespace midstick::engine {

struct SelfTestItem {
  std::string name;  ///< "stop loop"
  bool ok{false};
  std::string text;  ///< what was found, with unit and range
};

struct BenchReport {
  capture::Identity identity;
  protocol::Hello hello{};
  clock::ClockMap clock;
  int supply_mv{0};
  std::vector<SelfTestItem> items;
  bool fit() const;
};

Result<BenchReport> examine(Session& session);

}  // namespace midstick::engine
