// capture.vcd: the captured lines as a value change dump, IEEE Std 1364-2005 clause 18 (grammar from memory), 1-bit wires only.
//
// Time base: one step is 100 ns of true time from the start of the capture (the board's tick of 62.5 ns is no legal time scale):
// step = round((tick - first tick) * ns per tick / 100). A pulse shorter than a step is drawn one step wide, so that a runt stays
// visible; the header says how many edges that moved. An edge that repeats its line's level is left out and counted there too.
// Pure; the text is ASCII whatever the names hold; cannot fail.
#pragma once

#include <string>
#include <string_view>

#include "daemon/capture/capture.hpp"
#include "daemon/script/controller.hpp"

namespace midstick::report {

inline constexpr int kVcdStepNs = 100;

/// The whole file. `started` goes into $date; `plan` and the identity into a comment.
std::string capture_vcd(const capture::Capture& capture, const script::ControllerDescription& controller, std::string_view plan,
                        std::string_view started);

}  // namespace midstick::report
