// Prints mutants of every file in a folder, one JSON object a line, with our reader's verdict by the schema alone. Every value of the
// file is in turn removed, replaced by each of a list of values, or given an unknown member. Used by agree_mutants.mjs.
#include <filesystem>
#include <fstream>
#include <iostream>
#include <set>
#include <sstream>

#include "daemon/script/json_text.hpp"
#include "daemon/script/readers.hpp"

namespace {

using midstick::script::check_value;
using midstick::script::parse_json;
using nlohmann::json;

void print(const json& value, const std::string& change, std::set<std::string>& seen) {
  if (!seen.insert(value.dump()).second) return;
  const bool fits = static_cast<bool>(check_value(value, "mutant"));
  std::cout << json{{"fits", fits}, {"change", change}, {"value", value}}.dump() << "\n";
}

void mutate(const json& whole, const json::json_pointer& place, std::set<std::string>& seen) {
  static const json substitutes = json::parse(
      R"([null, true, -1, 0, 1, 2, 0.5, 3.0, -0.5, 50, 1e6, 1e300, 18446744073709551615,
          "", "x", "all", "S1", "PD8", [], [0], {}, {"x": 1}])");
  for (const json& substitute : substitutes) {
    json mutant = whole;
    mutant[place] = substitute;
    print(mutant, place.to_string() + " replaced", seen);
  }
  json mutant = whole;
  if (mutant[place].is_object()) mutant[place]["unknown"] = 1;
  if (mutant[place].is_array())
    for (int i = 0; i < 9 && !mutant[place].empty(); ++i) mutant[place].push_back(mutant[place][0]);
  print(mutant, place.to_string() + " grown", seen);
  if (place.empty()) return;
  mutant = whole;
  json& parent = mutant[place.parent_pointer()];
  if (parent.is_object())
    parent.erase(place.back());
  else
    parent.erase(std::stoul(place.back()));
  print(mutant, place.to_string() + " removed", seen);
}

void mutate_all(const json& whole, const json::json_pointer& place, std::set<std::string>& seen) {
  mutate(whole, place, seen);
  const json& here = whole[place];
  if (here.is_object())
    for (const auto& [key, value] : here.items()) mutate_all(whole, place / key, seen);
  if (here.is_array())
    for (std::size_t i = 0; i < here.size(); ++i) mutate_all(whole, place / i, seen);
}

}  // namespace

int main(int argc, char** argv) {
  if (argc != 2) return 64;
  std::set<std::string> seen;
  for (const auto& entry : std::filesystem::directory_iterator(argv[1])) {
    std::ifstream in(entry.path());
    std::stringstream text;
    text << in.rdbuf();
    const auto source = parse_json(text.str(), entry.path().string());
    if (!source) return 65;
    mutate_all(source->value, json::json_pointer(), seen);
  }
  return 0;
}
