#include "daemon/script/explain.hpp"

#include <algorithm>
#include <nlohmann/json.hpp>
#include <numeric>

#include "daemon/script/schema_validator.hpp"
#include "daemon/script/source.hpp"

namespace midstick::script {
namespace {

using nlohmann::json;

std::size_t distance(std::string_view a, std::string_view b) {
  std::vector<std::size_t> row(b.size() + 1);
  std::iota(row.begin(), row.end(), std::size_t{0});
  for (std::size_t i = 1; i <= a.size(); ++i) {
    std::size_t diagonal = std::exchange(row[0], i);
    for (std::size_t j = 1; j <= b.size(); ++j) {
      const std::size_t change = diagonal + (a[i - 1] == b[j - 1] ? 0 : 1);
      diagonal = std::exchange(row[j], std::min({row[j] + 1, row[j - 1] + 1, change}));
    }
  }
  return row.back();
}

/// "a, b, c" from the strings of `list`; from the keys when it is an object.
std::string listed(const json& list) {
  std::string out;
  const auto add = [&](const std::string& word) { out += (out.empty() ? "" : ", ") + word; };
  if (list.is_object())
    for (const auto& [key, value] : list.items()) add(key);
  else
    for (const json& word : list) add(word.is_string() ? word.get<std::string>() : shown(word));
  return out;
}

std::string unknown_key(const json& rule, std::string_view pointer) {
  const std::string key = json::json_pointer(std::string(pointer)).back();
  const json known = rule.value("properties", json::object());
  std::string out = "found the unknown key " + shown(key) + "; expected one of: " + listed(known);
  if (const std::string guess = nearest(key, known); !guess.empty()) out += " (did you mean " + guess + "?)";
  return out;
}

std::string missing_key(const json& rule, const json& found) {
  for (const json& key : rule["required"])
    if (!found.contains(key.get_ref<const std::string&>())) return "found no " + shown(key) + ", which must be given";
  return "a key is missing";
}

std::string expected_bound(const json& rule, std::string_view keyword) {
  const std::string bound = shown(rule.value(keyword, json()));
  if (keyword == "minimum") return "at least " + bound;
  if (keyword == "maximum") return "at most " + bound;
  if (keyword == "minItems") return bound + " or more entries";
  if (keyword == "maxItems") return bound + " or fewer entries";
  if (keyword == "minProperties") return bound + " or more members";
  if (keyword == "minLength") return bound + " or more characters";
  if (keyword == "maxLength") return bound + " or fewer characters";
  if (keyword == "pattern") return "text like " + rule.value("pattern", std::string());
  return "what the schema's \"" + std::string(keyword) + "\" asks for: " + bound;
}

std::string article(const std::string& type) {
  const bool vowel = !type.empty() && std::string_view("aeiou").find(type[0]) != std::string_view::npos;
  return (vowel ? "an " : "a ") + type;
}

}  // namespace

std::string nearest(std::string_view word, const json& words) {
  std::string best;
  std::size_t best_distance = 3;
  if (word.size() > 80) return best;
  const auto offer = [&](const std::string& candidate) {
    if (const auto d = distance(word, candidate); d < best_distance) best = candidate, best_distance = d;
  };
  if (words.is_object())
    for (const auto& [key, value] : words.items()) offer(key);
  else
    for (const json& candidate : words)
      if (candidate.is_string()) offer(candidate.get_ref<const std::string&>());
  return best;
}

std::string explain(const json& rule, std::string_view keyword, const json& found, std::string_view pointer) {
  if (keyword == "additionalProperties") return unknown_key(rule, pointer);
  if (keyword == "required") return missing_key(rule, found);
  std::string out = "found " + shown(found) + "; expected ";
  if (keyword == "type") {
    const bool several = rule.contains("type") && rule["type"].is_array();
    out += several ? "one of: " + listed(rule["type"]) : article(rule.value("type", std::string("other type")));
  } else if (keyword == "enum") {
    out += (rule["enum"].size() == 1 ? "" : "one of: ") + listed(rule["enum"]);
    if (found.is_string())
      if (const auto guess = nearest(found.get_ref<const std::string&>(), rule["enum"]); !guess.empty())
        out += " (did you mean " + guess + "?)";
  } else {
    out += expected_bound(rule, keyword);
  }
  if (rule.contains("description")) out += " (" + rule["description"].get<std::string>() + ")";
  return out;
}

std::string explain_branches(const json& root, const json& rule, const json& found) {
  json tags = json::array(), values = json::array();
  for (const json& alternative : rule["oneOf"]) {
    const json& branch = resolved(root, alternative);
    const json& tag = branch["required"][0];
    const json& tag_rule = resolved(root, branch["properties"][tag.get_ref<const std::string&>()]);
    if (std::find(tags.begin(), tags.end(), tag) == tags.end()) tags.push_back(tag);
    if (tag_rule.contains("enum") && tag_rule["enum"].size() == 1) values.push_back(tag_rule["enum"][0]);
  }
  if (!found.is_object()) return "found " + shown(found) + "; expected an object with: " + listed(tags);
  if (values.empty()) return "found none of the keys that say what it is; expected exactly one of: " + listed(tags);
  const std::string tag = tags[0].get<std::string>();
  if (!found.contains(tag)) return "found no " + shown(tag) + ", which must be one of: " + listed(values);
  std::string out = "found " + shown(tag) + " " + shown(found[tag]) + "; expected one of: " + listed(values);
  if (found[tag].is_string())
    if (const auto guess = nearest(found[tag].get_ref<const std::string&>(), values); !guess.empty())
      out += " (did you mean " + guess + "?)";
  return out;
}

}  // namespace midstick::script
