#include "daemon/script/schema_validator.hpp"

#include <rapidjson/document.h>
#include <rapidjson/schema.h>
#include <rapidjson/stringbuffer.h>

#include <cmath>
#include <nlohmann/json.hpp>

#include "daemon/script/explain.hpp"
#include "daemon/script/source.hpp"

namespace midstick::script {
namespace {

using nlohmann::json;

/// Feed `value` to a validator as parse events; false as soon as it refuses.
bool feed(const json& value, rapidjson::SchemaValidator& out) {
  using Size = rapidjson::SizeType;
  switch (value.type()) {
    case json::value_t::object: {
      if (!out.StartObject()) return false;
      for (const auto& [key, member] : value.items())
        if (!out.Key(key.data(), static_cast<Size>(key.size()), true) || !feed(member, out)) return false;
      return out.EndObject(static_cast<Size>(value.size()));
    }
    case json::value_t::array: {
      if (!out.StartArray()) return false;
      for (const json& item : value)
        if (!feed(item, out)) return false;
      return out.EndArray(static_cast<Size>(value.size()));
    }
    case json::value_t::string: {
      const auto& text = value.get_ref<const std::string&>();
      return out.String(text.data(), static_cast<Size>(text.size()), true);
    }
    case json::value_t::boolean:
      return out.Bool(value.get<bool>());
    case json::value_t::number_integer:
      return out.Int64(value.get<std::int64_t>());
    case json::value_t::number_unsigned:
      return out.Uint64(value.get<std::uint64_t>());
    case json::value_t::number_float: {
      const double d = value.get<double>();
      // A whole number is an integer however it is written, as the other validators have it.
      if (d == std::floor(d) && std::abs(d) < 9e15) return out.Int64(static_cast<std::int64_t>(d));
      return out.Double(d);
    }
    default:
      return out.Null();
  }
}

std::string text_of(const rapidjson::Pointer& pointer) {
  rapidjson::StringBuffer buffer;
  pointer.Stringify(buffer);
  return {buffer.GetString(), buffer.GetSize()};
}

/// Can the alternatives of a oneOf be told apart by a required key? Not so when some are numbers or null.
bool is_tagged(const json& root, const json& rule) {
  for (const json& alternative : rule["oneOf"])
    if (!resolved(root, alternative).contains("required")) return false;
  return true;
}

}  // namespace

std::optional<Misfit> first_misfit(const json& root, const json& node, const json& value) {
  json self = node;  // a document of its own, with the definitions that its references need
  if (root.contains("definitions")) self["definitions"] = root["definitions"];
  rapidjson::Document parsed;
  parsed.Parse(self.dump().c_str());
  const rapidjson::SchemaDocument compiled(parsed);
  rapidjson::SchemaValidator validator(compiled);
  if (feed(value, validator) && validator.IsValid()) return std::nullopt;

  const std::string place = text_of(validator.GetInvalidDocumentPointer());
  const std::string keyword = validator.GetInvalidSchemaKeyword();
  const json& rule = resolved(self, self.at(json::json_pointer(text_of(validator.GetInvalidSchemaPointer()))));
  // The place of an unknown key is the key's own.
  const json::json_pointer pointer(place);
  const json& found = value.contains(pointer) ? value.at(pointer) : value;
  if (keyword == "anyOf" || (keyword == "oneOf" && !is_tagged(self, rule)))
    return Misfit{place, "found " + shown(found) + "; expected one of the forms in the schema"};
  if (keyword != "oneOf") return Misfit{place, explain(rule, keyword, found, place)};
  const json* branch = chosen_branch(self, rule, found);
  if (!branch) return Misfit{place, explain_branches(self, rule, found)};
  auto inner = first_misfit(root, *branch, found);
  if (!inner) return Misfit{place, "found " + shown(found) + "; expected exactly one of the forms in the schema"};
  inner->pointer = place + inner->pointer;
  return inner;
}

const json& schema(FileKind kind) {
  static const auto schemas = [] {
    std::vector<json> out;
    for (const FileKind each : kFileKinds) out.push_back(json::parse(schema_text(each)));
    return out;
  }();
  return schemas[static_cast<std::size_t>(kind)];
}

const json& resolved(const json& root, const json& node) {
  const json* at = &node;
  while (at->is_object() && at->contains("$ref")) at = &root.at(json::json_pointer((*at)["$ref"].get_ref<const std::string&>().substr(1)));
  return *at;
}

const json* chosen_branch(const json& root, const json& node, const json& value) {
  if (!value.is_object()) return nullptr;
  for (const json& alternative : node["oneOf"]) {
    const json& branch = resolved(root, alternative);
    const std::string& tag = branch["required"][0].get_ref<const std::string&>();
    if (!value.contains(tag)) continue;
    const json& rule = resolved(root, branch["properties"][tag]);
    // One word allowed: it tells the branches apart. Several: the key itself does.
    if (!rule.contains("enum") || rule["enum"].size() > 1 || rule["enum"][0] == value[tag]) return &branch;
  }
  return nullptr;
}

std::optional<Misfit> first_misfit(FileKind kind, const json& value) { return first_misfit(schema(kind), schema(kind), value); }

}  // namespace midstick::script
