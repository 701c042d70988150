// A stick script compiled to instants of true time: edges, actions, marks. The engine turns instants to board ticks with the clock map.
//
// Sticks are sampled at each frame's start. Frames run on across moves; the last one is whole, so `length` may exceed the moves' sum by
// less than a frame, and appended timelines keep the frame rate.
//
// Pure: same script, controller and seed, same timeline. Edges are sorted by time and alternate per line; every line is low at the
// end. Errors (Error{bad_file}) when pulses of one line overlap or a width leaves 1 us .. the frame period.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "daemon/core/result.hpp"
#include "daemon/core/time.hpp"
#include "daemon/script/controller.hpp"
#include "daemon/script/stick_script.hpp"

namespace midstick::script {

struct PlannedEdge {
  ScriptTime at;
  std::uint8_t line{0};  ///< 0..5
  bool level{false};
};
struct PlannedAction {
  ScriptTime at;
  ActionKind kind{};
};
struct PlannedMark {
  ScriptTime at;
  std::string label;
  std::vector<double> values;  ///< widths in us by controller input, in the order of ControllerDescription::inputs; NaN where no pulse
};

struct Timeline {
  ScriptSpan length{};
  std::vector<PlannedEdge> edges;
  std::vector<PlannedAction> actions;
  std::vector<PlannedMark> marks;
};

/// Compile a script. `seed` is mixed with the script's own.
Result<Timeline> compile(const StickScript& script, const ControllerDescription& controller, std::uint64_t seed);

/// Append `tail` to `head`, shifted to head's end.
void append(Timeline& head, const Timeline& tail);

}  // namespace midstick::script
