// Helpers to make and look at compiled timelines: a two-input controller, a script of moves, a line's pulses. For tests only.
#pragma once

#include <gtest/gtest.h>

#include <ostream>
#include <vector>

#include "daemon/script/timeline.hpp"

namespace midstick::script {

struct Pulse {
  std::int64_t rise, width;  ///< ns
  friend bool operator==(const Pulse&, const Pulse&) = default;
  friend std::ostream& operator<<(std::ostream& out, const Pulse& p) { return out << "{" << p.rise << ", " << p.width << "}"; }
};

inline ControllerDescription two_inputs() {
  ControllerDescription out;
  out.name = "drive";
  out.inputs = {{"throttle", "S1", 0, 0, 0}, {"steering", "S2", 1, 0, 0}};
  return out;
}

/// Highs of a line; a test failure when its edges do not alternate, are not in order, or end high.
inline std::vector<Pulse> pulses(const Timeline& timeline, std::uint8_t line) {
  std::vector<Pulse> out;
  std::int64_t rise = -1, last = -1;
  for (const PlannedEdge& edge : timeline.edges) {
    if (edge.line != line) continue;
    EXPECT_EQ(edge.level, rise < 0) << "two edges the same way at " << edge.at.count;
    EXPECT_GT(edge.at.count, last);
    last = edge.at.count;
    if (edge.level) {
      rise = edge.at.count;
    } else {
      out.push_back({rise, edge.at.count - rise});
      rise = -1;
    }
  }
  EXPECT_LT(rise, 0) << "line " << int{line} << " is high at the end";
  return out;
}

inline StickScript script_of(std::vector<Move> moves) {
  StickScript out;
  out.name = "x";
  out.moves = std::move(moves);
  return out;
}

/// The script compiled for two_inputs(); a test failure when it is refused.
inline Timeline played(const StickScript& script, std::uint64_t seed = 1) {
  auto timeline = compile(script, two_inputs(), seed);
  EXPECT_TRUE(timeline) << timeline.error().message;
  return timeline ? timeline.take() : Timeline{};
}

/// Why the script is refused; a test failure when it is not.
inline std::string refusal(const StickScript& script) {
  const auto timeline = compile(script, two_inputs(), 1);
  EXPECT_FALSE(timeline);
  return timeline ? "" : timeline.error().message;
}

}  // namespace midstick::script
