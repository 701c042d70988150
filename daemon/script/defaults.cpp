#include "daemon/script/defaults.hpp"

#include <nlohmann/json.hpp>

#include "daemon/script/schema_validator.hpp"

namespace midstick::script {
namespace {

using nlohmann::json;

void fill(const json& root, const json& unresolved, json& value) {
  const json& node = resolved(root, unresolved);
  if (node.contains("oneOf")) {
    if (const json* branch = chosen_branch(root, node, value)) fill(root, *branch, value);
    return;
  }
  if (value.is_object() && node.contains("properties")) {
    for (const auto& [key, unresolved_rule] : node["properties"].items()) {
      const json& rule = resolved(root, unresolved_rule);
      if (!value.contains(key) && rule.contains("default")) value[key] = rule["default"];
      if (value.contains(key)) fill(root, rule, value[key]);
    }
  } else if (value.is_array() && node.contains("items")) {
    for (json& item : value) fill(root, node["items"], item);
  }
}

}  // namespace

void fill_defaults(FileKind kind, json& value) { fill(schema(kind), schema(kind), value); }

}  // namespace midstick::script
