// JSON with comments (// and /* */) from text, with the line of every value.
//
// Refused (bad_file, with line): over 1 MiB, nested over 64 deep, a key twice in one object, text that is not UTF-8, NaN or numbers beyond
// a double, anything after the value, trailing commas. A byte order mark at the start is skipped. Whole numbers written
// with a point (3.0) become integers. Pure.
#pragma once

#include <string>
#include <string_view>

#include "daemon/core/result.hpp"
#include "daemon/script/source.hpp"

namespace midstick::script {

inline constexpr std::size_t kMaxFileBytes = 1 << 20;
inline constexpr int kMaxDepth = 64;

/// Parse `text`; `path` is only for messages.
Result<Source> parse_json(std::string_view text, std::string path);

}  // namespace midstick::script
