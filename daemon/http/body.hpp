// A request's body read as strict JSON. Private to this room. Pure.
#pragma once

#include <nlohmann/json_fwd.hpp>
#include <string>
#include <string_view>

#include "daemon/core/result.hpp"

namespace midstick::http {

inline constexpr int kMaxBodyDepth = 32;  ///< objects and arrays within each other

/// Refused with the reason: anything that is not one JSON value in UTF-8, nested too deep, or with a key twice in one object.
Result<nlohmann::json> parse_body(std::string_view text);

}  // namespace midstick::http
