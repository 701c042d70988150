#include "daemon/http/body.hpp"

#include <nlohmann/json.hpp>
#include <set>
#include <vector>

namespace midstick::http {

using nlohmann::json;

Result<json> parse_body(std::string_view text) {
  // The library's parser needs no stack for depth, but whoever walks the value does.
  std::string refusal;
  std::vector<std::set<std::string>> keys;
  const auto watch = [&](int depth, json::parse_event_t event, json& value) {
    if (event == json::parse_event_t::object_start) keys.emplace_back();
    if (event == json::parse_event_t::object_end && !keys.empty()) keys.pop_back();
    if (event == json::parse_event_t::key && refusal.empty() && !keys.empty() && !keys.back().insert(value.get<std::string>()).second)
      refusal = "the key \"" + value.get<std::string>() + "\" stands twice in one object";
    if (depth > kMaxBodyDepth && refusal.empty()) refusal = "it is nested over " + std::to_string(kMaxBodyDepth) + " deep";
    return refusal.empty();
  };
  try {
    json value = json::parse(text, watch);
    if (!refusal.empty()) return Error{ErrorKind::bad_file, refusal};
    return value;
  } catch (const json::exception& error) {
    // Without the library's own tag, "[json.exception.parse_error.101] ".
    const std::string what = error.what();
    const auto tag = what.find("] ");
    return Error{ErrorKind::bad_file, "it is not JSON: " + (tag == std::string::npos ? what : what.substr(tag + 2))};
  }
}

}  // namespace midstick::http
