// A request's target taken apart: percent-decoded once, and nothing in it that could lead out of a folder. Private to this room. Pure.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "daemon/http/response.hpp"

namespace midstick::http {

inline constexpr std::size_t kMaxTarget = 4096;  ///< bytes; long enough for every query of the contract

struct Target {
  std::string path;                                        ///< decoded
  std::vector<std::string> segments;                       ///< decoded; "/" has none, "/a/" has "a" and ""
  std::vector<std::pair<std::string, std::string>> query;  ///< decoded, in order
};

/// Fills `out`, or gives the refusal: 414 when too long; 400 for anything but "/path?query" in visible ASCII, a broken escape, and,
/// decoded, control characters, text that is not UTF-8, a slash or backslash within a segment, "." and "..".
std::optional<Response> parse_target(std::string_view text, Target& out);

/// Is it UTF-8?
bool is_utf8(std::string_view text);

}  // namespace midstick::http
