// A stretch of the capture drawn as pulses, one lane a line: what went in, what came out, and where it failed.
//
// Times on the axis are ms of true time from the strip's zero. Pulses are labelled with their width in us where there is room; one too
// narrow to see is drawn as a spike. Pure; reads the capture's edges, which must be sorted by time.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/capture/capture.hpp"
#include "daemon/judge/check.hpp"
#include "daemon/script/controller.hpp"

namespace midstick::report {

struct Strip {
  std::string title;
  BoardTime begin, end;            ///< shown
  BoardTime zero;                  ///< 0 ms
  BoardTime mark_begin, mark_end;  ///< stretch the verdict speaks of
  std::string mark_label;
  bool failing{false};
  bool close{true};  ///< near enough to label pulses with their widths
  std::vector<std::uint8_t> stimulus_lines, response_lines;
};

/// Strips for a span: the whole of it with some room around it. Of a long one the beginning closer up, and the whole only if it fails.
/// Lines the span does not name are taken from the controller.
std::vector<Strip> strips_of(const judge::Span& span, const capture::Capture& capture, const script::ControllerDescription& controller);

std::string strip_svg(const Strip& strip, const capture::Capture& capture, const script::ControllerDescription& controller,
                      std::string_view id);

}  // namespace midstick::report
