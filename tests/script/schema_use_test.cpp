// The schemas and the readers say the same: whatever a schema offers changes what is read, and the schemas keep to the keywords that every
// validator reads alike. (That they accept the same files is asked of an outside validator, agree_corpus.mjs and agree_mutants.mjs.)
#include <gtest/gtest.h>

#include <fstream>
#include <map>
#include <set>
#include <sstream>

#include "daemon/script/readers.hpp"
#include "daemon/script/schema_validator.hpp"
#include "tests/script/describe.hpp"

namespace midstick::script {
namespace {

using nlohmann::json;

/// What the reader makes of `value`; nothing when it refuses.
std::optional<std::string> read_as_text(FileKind kind, const json& value) {
  auto checked = check_value(value, "f", kind);
  if (!checked) return std::nullopt;
  Source& source = checked->source;
  const auto text = [](const auto& result) { return result ? std::optional(described(*result)) : std::nullopt; };
  switch (kind) {
    case FileKind::controller:
      return text(read_controller(source));
    case FileKind::mixer:
      return text(read_mixer(source));
    case FileKind::sticks:
      return text(read_sticks(source, nullptr));
    default:
      return text(read_plan(source));
  }
}

void collect_words(const json& node, std::vector<json>& out) {
  if (node.is_object() && node.contains("enum"))
    for (const json& word : node["enum"]) out.push_back(word);
  if (node.is_structured())
    for (const json& inner : node) collect_words(inner, out);
}

/// Other values that might stand in the place of `value`.
std::vector<json> others(FileKind kind, const json& value) {
  if (value.is_boolean()) return {!value.get<bool>()};
  if (value.is_number()) {
    const double v = value;
    return {v + 1, v - 1, v + 0.125, v - 0.125, 2 * v};
  }
  std::vector<json> out{value.get<std::string>() + "x", "S5", "P4", "PC5", "throttle"};
  collect_words(schema(kind), out);
  return out;
}

/// Members that others tests speak of: names of files, and the unit that all values of a script hang on.
bool told_elsewhere(const std::string& place) {
  static const std::set<std::string> places{"/format", "/$schema", "/mixer", "/controller", "/unit"};
  return places.contains(place) || place.ends_with("/script") || place.ends_with("/check");
}

json filled(FileKind kind, const std::string& file) {
  std::ifstream in(MIDSTICK_CORPUS "/good/" + file);
  std::stringstream text;
  text << in.rdbuf();
  const auto checked = read_source(text.str(), file, kind);
  EXPECT_TRUE(checked) << checked.error().message;
  return checked ? checked->source.value : json();  // with every default, so that every member of the schema stands in it
}

struct Leaf {
  bool accepted{false}, changed{false};
};

/// What other values in the place of each leaf of `whole` do.
void try_leaves(FileKind kind, const json& whole, std::map<std::string, Leaf>& leaves) {
  const auto before = read_as_text(kind, whole);
  ASSERT_TRUE(before);
  const json flat = whole.flatten();  // items() only refers to it
  for (const auto& [place, value] : flat.items()) {
    if (value.is_structured() || value.is_null() || told_elsewhere(place)) continue;
    Leaf& leaf = leaves[place];
    for (const json& other : others(kind, value)) {
      json changed_file = whole;
      changed_file[json::json_pointer(place)] = other;
      if (other == value) continue;
      const auto after = read_as_text(kind, changed_file);
      leaf.accepted = leaf.accepted || after.has_value();
      leaf.changed = leaf.changed || (after && *after != *before);
    }
  }
}

/// Several files: a law that needs a matrix allows other members than one that needs a table. Each leaf must matter in one of them.
void expect_every_leaf_matters(FileKind kind, const std::vector<std::string>& files) {
  std::map<std::string, Leaf> leaves;
  for (const std::string& file : files) try_leaves(kind, filled(kind, file), leaves);
  for (const auto& [place, leaf] : leaves) {
    EXPECT_TRUE(leaf.accepted) << place << ": the reader accepts no other value";
    EXPECT_TRUE(leaf.changed) << place << ": the reader does not look at it";
  }
  EXPECT_GT(leaves.size(), 10u);
}

const std::vector<std::string> kFullMixers{"mixer-full.json", "mixer-matrix.json", "mixer-table.json"};

TEST(SchemaUse, EveryMemberOfAControllerMatters) { expect_every_leaf_matters(FileKind::controller, {"controller-full.json"}); }
TEST(SchemaUse, EveryMemberOfAMixerMatters) { expect_every_leaf_matters(FileKind::mixer, kFullMixers); }
TEST(SchemaUse, EveryMemberOfSticksMatters) { expect_every_leaf_matters(FileKind::sticks, {"sticks-every-move.json"}); }
TEST(SchemaUse, EveryMemberOfAPlanMatters) { expect_every_leaf_matters(FileKind::plan, {"plan-every-check.json"}); }

/// The full files really use every member: each "properties" key of the schema stands somewhere in the filled file.
void expect_every_key_used(FileKind kind, const std::vector<std::string>& files, const std::set<std::string>& spared) {
  std::string filled_files;
  for (const std::string& file : files) filled_files += filled(kind, file).dump();
  std::vector<const json*> nodes{&schema(kind)};
  while (!nodes.empty()) {
    const json& node = *nodes.back();
    nodes.pop_back();
    const json properties = node.is_object() ? node.value("properties", json::object()) : json::object();
    for (const auto& [key, rule] : properties.items())
      EXPECT_TRUE(spared.contains(key) || filled_files.find('"' + key + "\":") != std::string::npos)
          << key << " stands nowhere in " << files.front();
    if (node.is_structured())
      for (const json& inner : node) nodes.push_back(&inner);
  }
}

TEST(SchemaUse, FullFilesUseEveryMember) {
  expect_every_key_used(FileKind::controller, {"controller-full.json"}, {});
  expect_every_key_used(FileKind::mixer, kFullMixers, {});
  expect_every_key_used(FileKind::sticks, {"sticks-every-move.json"}, {});
  // Not given means "as the mixer spec says": no default to fill in.
  expect_every_key_used(FileKind::plan, {"plan-every-check.json"}, {"limit_ms", "period_low_ms", "period_high_ms", "lost_ms"});
}

/// Keywords that RapidJSON and draft-07 validators read alike.
const std::set<std::string> kKeywords{"$schema",   "$ref",          "title",       "description", "type",
                                      "enum",      "default",       "definitions", "properties",  "additionalProperties",
                                      "required",  "minProperties", "items",       "minItems",    "maxItems",
                                      "minLength", "maxLength",     "pattern",     "minimum",     "maximum",
                                      "oneOf"};

void expect_common_subset(const json& node, const std::string& place) {
  if (!node.is_object()) return;
  for (const auto& [key, value] : node.items()) {
    EXPECT_TRUE(kKeywords.contains(key)) << place << ": keyword " << key;
    if (key == "properties" || key == "definitions")
      for (const auto& [name, rule] : value.items()) expect_common_subset(rule, place + "/" + key + "/" + name);
    else if (key == "items" || key == "additionalProperties")
      expect_common_subset(value, place + "/" + key);
    else if (key == "oneOf")
      for (const json& rule : value) expect_common_subset(rule, place + "/oneOf");
  }
  EXPECT_TRUE(!node.contains("$ref") || node.size() == 1) << place << ": members beside $ref are read by some validators only";
  EXPECT_TRUE(node.value("type", "") != "object" || node.contains("additionalProperties")) << place << ": typos would pass";
}

TEST(Schemas, KeepToTheCommonSubset) {
  for (const FileKind kind : kFileKinds) expect_common_subset(schema(kind), std::string(name(kind)));
}

TEST(Schemas, EveryAlternativeHasATag) {
  for (const FileKind kind : {FileKind::sticks, FileKind::plan}) {
    const json& root = schema(kind);
    for (const auto& [name, rule] : root["definitions"].items())
      for (const json& alternative : rule.value("oneOf", json::array())) {
        const json& branch = resolved(root, alternative);
        ASSERT_TRUE(branch["properties"].contains(branch["required"][0].get<std::string>())) << name;
      }
  }
}

TEST(Schemas, FormatOfEachIsItsTitle) {
  for (const FileKind kind : kFileKinds) {
    EXPECT_EQ(schema(kind)["title"], format(kind));
    EXPECT_EQ(schema(kind)["properties"]["format"]["enum"], json::array({format(kind)}));
    EXPECT_EQ(kind_of_format(format(kind)), kind);
  }
  EXPECT_FALSE(kind_of_format("midstick plan 2"));
}

}  // namespace
}  // namespace midstick::script
