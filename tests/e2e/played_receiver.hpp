// A receiver played by the virtual bench itself: stimulus lines looped to the capture lines, so that what records a receiver hears one
// whose sticks are known.
#pragma once

#include <gtest/gtest.h>

#include <span>
#include <utility>

#include "daemon/engine/record.hpp"
#include "daemon/script/timeline.hpp"
#include "fixtures/virtual/bench.hpp"

namespace midstick::e2e {

/// Lines of a receiver with throttle on S1 and steering on S2.
inline script::ControllerDescription receiver_wires() {
  script::ControllerDescription out;
  out.inputs = {{"throttle", "S1", 0, 0, 0}, {"steering", "S2", 1, 0, 0}};
  return out;
}

/// What engine::listen() captures in `seconds` of this script, which begins 100 ms after the first step.
inline Result<capture::Capture> listened(const script::StickScript& receiver, double seconds, std::span<const engine::RecordStep> steps) {
  virtual_bench::VirtualBenchOptions options;
  options.board_ppm = 1500;
  auto bench = virtual_bench::VirtualBench::make(options);
  if (!bench) return bench.error();
  EXPECT_TRUE(bench.value()->loop_back(0, 0).ok() && bench.value()->loop_back(1, 1).ok());
  static const std::atomic<bool> never{false};
  engine::Session session(*bench.value(), never);
  if (auto s = session.open(); !s) return s.error();
  if (auto s = session.settle_clock(100, host_ms(15'000)); !s) return s.error();
  const auto timeline = script::compile(receiver, receiver_wires(), 1);
  if (!timeline) return timeline.error();
  bool playing = false;
  const auto play = [&](const engine::RecordStep&) {
    if (std::exchange(playing, true)) return;
    const BoardTime origin = *session.link().board_now(session.now()) + session.clock_map().ticks(script_ms(100));
    std::vector<link::StimulusEdge> edges;
    for (const auto& e : timeline->edges) edges.push_back({origin + session.clock_map().ticks(e.at - ScriptTime{}), e.line, e.level});
    session.link().stimulate(edges, session.now());
  };
  return engine::listen(session, 2, seconds, play, steps);
}

}  // namespace midstick::e2e
