// A board's calibration as a reviewable JSON file, and back. Format "midstick calibration 1"; schema beside this header.
//
// Round trip is exact. Reading trusts nothing: Error{bad_file} names file, JSON pointer, what was found and what was expected.
#pragma once

#include <filesystem>
#include <nlohmann/json_fwd.hpp>
#include <string>
#include <string_view>

#include "daemon/capture/calibration.hpp"
#include "daemon/core/result.hpp"

namespace midstick::store {

inline constexpr std::string_view kCalibrationFormat = "midstick calibration 1";

std::string calibration_to_json(const capture::Calibration& calibration);
/// `where` names the file in errors.
Result<capture::Calibration> calibration_from_json(std::string_view text, const std::string& where);

Result<capture::Calibration> read_calibration(const std::filesystem::path& path);

/// The same as a value, for files that hold one inside.
nlohmann::json calibration_value(const capture::Calibration& calibration);
/// Throws std::runtime_error("/pointer: found ...; expected ..."). `place`: pointer of `value` in its file.
capture::Calibration calibration_of(const nlohmann::json& value, const std::string& place);

}  // namespace midstick::store
