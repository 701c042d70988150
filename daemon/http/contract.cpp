#include "daemon/http/contract.hpp"

#include <algorithm>
#include <charconv>
#include <cmath>
#include <nlohmann/json.hpp>

#include "daemon/http/body.hpp"
#include "daemon/http/tokens.hpp"
#include "daemon/script/schema_validator.hpp"

namespace midstick::http {
namespace {

using nlohmann::json;

const std::string kComponents = "#/components/schemas/", kDefinitions = "#/definitions/";

/// An OpenAPI 3.0 schema as JSON Schema draft 4: references lead to "definitions", and `nullable` becomes one more type.
json as_draft4(const json& schema) {
  if (!schema.is_object()) return schema;
  json out = schema;
  out.erase("nullable");
  if (out.contains("properties"))
    for (auto& [name, property] : out["properties"].items()) property = as_draft4(property);
  for (const char* one : {"items", "additionalProperties", "not"})
    if (out.contains(one)) out[one] = as_draft4(out[one]);
  for (const char* several : {"oneOf", "anyOf", "allOf"})
    if (out.contains(several))
      for (json& branch : out[several]) branch = as_draft4(branch);
  if (out.contains("$ref")) {
    const std::string ref = out["$ref"];
    out = {{"$ref", ref.starts_with(kComponents) ? kDefinitions + ref.substr(kComponents.size()) : ref}};
  }
  if (!schema.value("nullable", false)) return out;
  const json null{{"type", "null"}};
  if (out.contains("oneOf")) {
    out["oneOf"].push_back(null);
  } else if (out.contains("type")) {
    out["type"] = json::array({out["type"], "null"});
    if (out.contains("enum")) out["enum"].push_back(nullptr);
  } else {
    out = {{"anyOf", json::array({out, null})}};
  }
  return out;
}

void collect(const json& node, const json& all, json& used) {
  if (node.is_object() && node.contains("$ref")) {
    const std::string name = node["$ref"].get<std::string>().substr(kDefinitions.size());
    if (used.contains(name)) return;
    used[name] = all.at(name);
    collect(all.at(name), all, used);
    return;
  }
  if (node.is_structured())
    for (const json& child : node) collect(child, all, used);
}

/// `schema` as a document of its own, with only the definitions that it needs; not a reference itself.
std::shared_ptr<const json> standing_alone(const json& schema, const json& definitions) {
  json used = json::object();
  json self = as_draft4(schema);
  while (self.contains("$ref")) self = definitions.at(self["$ref"].get<std::string>().substr(kDefinitions.size()));
  collect(self, definitions, used);
  if (!used.empty()) self["definitions"] = used;
  return std::make_shared<const json>(std::move(self));
}

std::vector<std::string> segments_of(const std::string& path) {
  std::vector<std::string> out;
  for (std::size_t at = 1; at < path.size();) {
    const std::size_t end = std::min(path.find('/', at), path.size());
    out.push_back(path.substr(at, end - at));
    at = end + 1;
  }
  return out;
}

Parameter read_parameter(const json& node, const json& definitions) {
  Parameter out;
  out.name = node.at("name");
  out.required = node.value("required", false);
  out.schema = standing_alone(node.at("schema"), definitions);
  out.type = out.schema->value("type", "string");
  if (out.schema->contains("default")) {
    const json& value = out.schema->at("default");
    out.fallback = value.is_string() ? value.get<std::string>() : value.dump();
  }
  return out;
}

Operation read_operation(const std::string& path, const std::string& method, const json& node, const json& definitions) {
  Operation out;
  out.id = node.at("operationId");
  out.path = path;
  out.segments = segments_of(path);
  std::ranges::transform(method, std::back_inserter(out.method), [](unsigned char c) { return static_cast<char>(std::toupper(c)); });
  const auto scope = scope_of(node.at("x-scope").get<std::string>());
  if (!scope) throw std::runtime_error("x-scope must be read, run or admin");
  out.scope = *scope;
  out.by_server = out.id == kOpenSession || out.id == kCloseSession;
  for (const json& parameter : node.value("parameters", json::array())) {
    const std::string in = parameter.at("in");
    if (in != "path" && in != "query") throw std::runtime_error("parameters are in path or query, not in " + in);
    (in == "path" ? out.path_parameters : out.query_parameters).push_back(read_parameter(parameter, definitions));
  }
  for (const auto& segment : out.segments)
    if (segment.front() == '{' &&
        std::ranges::none_of(out.path_parameters, [&](const Parameter& p) { return "{" + p.name + "}" == segment; }))
      throw std::runtime_error("the path's " + segment + " has no parameter");
  if (node.contains("requestBody")) {
    out.body_required = node["requestBody"].value("required", false);
    out.body_schema = standing_alone(node["requestBody"].at("content").at("application/json").at("schema"), definitions);
  }
  for (const auto& [status, response] : node.at("responses").items()) out.statuses.insert(std::stoi(status));
  return out;
}

/// The parameter's text as the JSON value that it stands for; discarded when it is not of the type.
json value_of(const std::string& type, const std::string& text) {
  const json none(json::value_t::discarded);
  if (type == "boolean") return text == "true" ? json(true) : text == "false" ? json(false) : none;
  if (type == "integer") {
    std::int64_t value = 0;
    const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
    return error == std::errc{} && end == text.data() + text.size() && std::to_string(value) == text ? json(value) : none;
  }
  if (type == "number") {
    double value = 0;
    const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
    return error == std::errc{} && end == text.data() + text.size() && std::isfinite(value) ? json(value) : none;
  }
  return text;
}

std::optional<Mistake> misfit(const json& schema, const json& value) {
  const auto found = script::first_misfit(schema, schema, value);
  if (!found) return std::nullopt;
  return Mistake{found->pointer, found->what};
}

}  // namespace

Result<Contract> Contract::read(std::string_view text) {
  Contract out;
  std::string place = "the document";
  try {
    auto document = std::make_shared<json>(json::parse(text));
    json definitions = json::object();
    const json schemas = document->value(json::json_pointer("/components/schemas"), json::object());
    for (const auto& [name, schema] : schemas.items()) definitions[name] = as_draft4(schema);
    for (const auto& [path, item] : document->at("paths").items())
      for (const auto& [method, node] : item.items()) {
        place = method + " " + path;
        out.operations_.push_back(read_operation(path, method, node, definitions));
        if (out.find(out.operations_.back().id) != &out.operations_.back()) throw std::runtime_error("its operationId is used twice");
      }
    (*document)["definitions"] = std::move(definitions);
    out.document_ = std::move(document);
  } catch (const std::exception& error) {
    return Error{ErrorKind::bad_file, "OpenAPI contract, " + place + ": " + error.what()};
  }
  return out;
}

const Operation* Contract::find(std::string_view id) const {
  const auto found = std::ranges::find(operations_, id, &Operation::id);
  return found == operations_.end() ? nullptr : &*found;
}

bool Contract::may_answer(const Operation& operation, int status) { return operation.statuses.contains(status) || always_possible(status); }

bool Contract::always_possible(int status) {
  static const std::set<int> always{304, 400, 401, 403, 405, 408, 413, 414, 415, 421, 429, 431, 500, 503, 505};
  return always.contains(status);
}

std::optional<Mistake> Contract::parameter_misfit(const Parameter& parameter, const std::string& text) const {
  const json value = value_of(parameter.type, text);
  if (value.is_discarded())
    return Mistake{parameter.name,
                   "found \"" + text + "\"; expected " + (parameter.type == "integer" ? "a whole number" : "a " + parameter.type)};
  auto mistake = misfit(*parameter.schema, value);
  if (mistake) mistake->pointer = parameter.name;
  return mistake;
}

std::optional<Mistake> Contract::body_misfit(const Operation& operation, const json& body) const {
  return misfit(*operation.body_schema, body);
}

std::optional<std::string> Contract::contract_misfit(std::string_view id, int status, std::string_view type, std::string_view body) const {
  const Operation* operation = find(id);
  if (!operation) return "no operation " + std::string(id) + " in the contract";
  const std::string where = std::string(id) + " " + std::to_string(status);
  if (!may_answer(*operation, status)) return where + " is not declared";
  const std::string bare(type.substr(0, type.find(';')));
  std::string method = operation->method;
  std::ranges::transform(method, method.begin(), [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
  const json& responses = document_->at("paths").at(operation->path).at(method).at("responses");
  const std::string key = std::to_string(status);
  json content = responses.contains(key) ? responses[key].value("content", json::object()) : json::object();
  if (status >= 400 && content.empty()) content = {{"application/problem+json", {{"schema", {{"$ref", kComponents + "Problem"}}}}}};
  if (content.empty()) return body.empty() ? std::nullopt : std::optional(where + " has a body where none is declared");
  if (!content.contains(bare)) return where + " is of the type " + bare + ", which is not declared";
  if (bare != "application/json" && bare != "application/problem+json") return std::nullopt;
  const auto value = parse_body(body);
  if (!value) return where + ": " + value.error().message;
  if (!content[bare].contains("schema")) return std::nullopt;
  const auto mistake = misfit(*standing_alone(content[bare]["schema"], document_->at("definitions")), value.value());
  return mistake ? std::optional(where + " at \"" + mistake->pointer + "\": " + mistake->detail) : std::nullopt;
}

std::optional<std::string> Contract::message_misfit(std::string_view schema, std::string_view text) const {
  const json& definitions = document_->at("definitions");
  if (!definitions.contains(schema)) return "no schema " + std::string(schema) + " in the contract";
  const auto value = parse_body(text);
  if (!value) return std::string(schema) + ": " + value.error().message;
  const auto mistake = misfit(*standing_alone(json{{"$ref", kComponents + std::string(schema)}}, definitions), value.value());
  return mistake ? std::optional(std::string(schema) + " at \"" + mistake->pointer + "\": " + mistake->detail) : std::nullopt;
}

}  // namespace midstick::http
