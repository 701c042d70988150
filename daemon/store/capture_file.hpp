// The capture of a run as a reviewable JSON file, and back.
//
// Edge lists are columns: time as differences in ticks, line and level as line*2+level, and the rare stamps whose bound is not one tick as
// [index, half_width, crowded]. The calibration that corrected them is in it, or why one was not used. Version 1. Round trip is exact.
// Reading trusts nothing: Error{bad_file} names the JSON pointer.
#pragma once

#include <string>
#include <string_view>

#include "daemon/capture/capture.hpp"
#include "daemon/core/result.hpp"

namespace midstick::store {

std::string capture_to_json(const capture::Capture& capture);

/// `where` names the file in errors.
Result<capture::Capture> capture_from_json(std::string_view text, const std::string& where);

}  // namespace midstick::store
