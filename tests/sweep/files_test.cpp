// The files of a map: valid by the published schema, a header that compilers take, a table of equal rows, a page that stands alone.
#include <gtest/gtest.h>
#include <rapidjson/document.h>
#include <rapidjson/schema.h>
#include <rapidjson/stringbuffer.h>

#include <algorithm>
#include <cstdlib>
#include <fstream>
#include <nlohmann/json.hpp>
#include <sstream>

#include "daemon/store/files.hpp"
#include "daemon/sweep/write_map.hpp"
#include "tests/e2e/scratch_folder.hpp"

namespace midstick::sweep {
namespace {

const MapFacts kFacts{"midstick test", "2026-01-02T03:04:05Z"};

/// A map with something in every field, and names that no file format likes.
Map sample() {
  Map map;
  map.controller = "work*/shop \"<b>\"", map.bench = "virtual:x";
  map.inputs = {"throttle", "steering"}, map.outputs = {"left,1", "right"};
  map.probed.frame_ms = {19.66, 19.66};
  map.settings.grid = 3;
  SideFit fit;
  fit.answers = true, fit.gain = Value{1.04, 0.001}, fit.edge = fit.leaving = fit.entering = Value{20, 0.3}, fit.end = Value{500, 0.3};
  fit.offset = Value{0, 1.5}, fit.last = {2000, 0.3}, fit.gain_from = 22, fit.gain_to = 490, fit.gain_y = 1502;
  for (const auto& in : map.inputs)
    for (const auto& out : map.outputs) {
      CurveMap c;
      c.input = in, c.output = out, c.answers = true, c.neutral = {1500, 0.3}, c.fast = FastMap{3, 2}, c.smallest_step = 0.5;
      for (SideMap* s : {&c.low, &c.high})
        s->fit = fit, s->edge = s->leaving = s->entering = s->end = Value{1520, 0.3}, s->hysteresis = Value{0, 0.4};
      for (const double x : {1000.0, 1500.0, 2000.0}) c.points.push_back({x, {x, 0.3, 0, 3}, true});
      map.curves.push_back(c);
    }
  for (std::size_t o = 0; o < 2; ++o) {
    map.neutral.push_back({1500, 0.3}), map.low.push_back({1000, 0.3}), map.high.push_back({2000, 0.3});
    map.coupling.push_back({map.outputs[o], 1, 2, 0.5, 1500, 1500});
  }
  for (const double t : {1000.0, 1500.0, 2000.0})
    for (const double s : {1000.0, 1500.0, 2000.0}) map.grid.push_back({{t, s}, {{1400, 0.3, 0, 3}, {1600, 0.3, 0, 3}}});
  return map;
}

ReceiverMap receiver() {
  return {"a receiver",
          "virtual:x",
          {20'000, 0.1},
          {{"throttle", {1000, 0.1}, {1500, 0.1}, {2000, 0.1}, {0, 0.1}, {0, 0.1}, {0, 0.1}, 0.5, 1, 0}}};
}

/// Empty when the text is valid by the published schema, else where it is not.
std::string misfit(const std::string& text) {
  rapidjson::Document schema_text, document;
  schema_text.Parse(store::read_file(MIDSTICK_SOURCE "/daemon/sweep/schema/map.schema.json", 1u << 20)->c_str());
  EXPECT_FALSE(schema_text.HasParseError());
  const rapidjson::SchemaDocument schema(schema_text);
  document.Parse(text.c_str());
  if (document.HasParseError()) return "no JSON";
  rapidjson::SchemaValidator validator(schema);
  if (document.Accept(validator)) return "";
  rapidjson::StringBuffer where;
  validator.GetInvalidDocumentPointer().StringifyUriFragment(where);
  return std::string(where.GetString()) + ": " + validator.GetInvalidSchemaKeyword();
}

TEST(MapFiles, JsonIsValidByItsSchemaAndTheSchemaCanBeFailed) {
  const std::string text = map_json(sample(), kFacts);
  EXPECT_EQ(misfit(text), "");
  EXPECT_EQ(misfit(map_json(receiver(), kFacts)), "");
  auto broken = nlohmann::json::parse(text);
  broken["outputs"][0]["neutral"].erase("U");
  EXPECT_NE(misfit(broken.dump()), "") << "a number without its uncertainty";
}

TEST(MapFiles, HeaderIsTakenByCCompilersOfBenchAndChip) {
  const e2e::ScratchFolder folder;
  std::ofstream(folder / "map.h") << map_header(sample(), kFacts);
  std::ofstream(folder / "receiver.h") << map_header(receiver(), kFacts);
  const std::string use =
      "#include \"map.h\"\nint main(void) { return RIGHT_NEUTRAL_US == 1500 && RIGHT_BY_STEERING_HIGH_GAIN == 1065 ? 0 : 1; }\n";
  const std::string use_receiver = "#include \"receiver.h\"\nint main(void) { return THROTTLE_CENTRE_US == 1500 ? 0 : 1; }\n";
  std::ofstream(folder / "a.c") << use, std::ofstream(folder / "a.cpp") << use, std::ofstream(folder / "b.c") << use_receiver;
  const auto ran = [&](const std::string& command) { return std::system(("cd '" + (folder / "").string() + "' && " + command).c_str()); };
  EXPECT_EQ(ran("cc -std=c99 -Wall -Wextra -Wpedantic -Werror a.c -o a && ./a"), 0);
  EXPECT_EQ(ran("cc -std=c99 -Wall -Wextra -Wpedantic -Werror b.c -o b && ./b"), 0);
  EXPECT_EQ(ran("c++ -std=c++11 -Wall -Wextra -Wpedantic -Werror a.cpp -o a && ./a"), 0);
  EXPECT_EQ(ran("avr-gcc -mmcu=atmega328p -std=c99 -Wall -Wextra -Werror -c a.c -o a.o"), 0);
}

TEST(MapFiles, TableHasAsManyFieldsInEveryRow) {
  std::istringstream rows(map_csv(sample()));
  std::string row;
  std::getline(rows, row);
  EXPECT_NE(row.find("\"left,1_us\""), std::string::npos) << row;
  int count = 0;
  for (; std::getline(rows, row); ++count) EXPECT_EQ(std::count(row.begin(), row.end(), ','), 8) << row;
  EXPECT_EQ(count, 2 * 3 + 9);
}

TEST(MapFiles, PageShowsEveryCurveAsksNothingOfOthersAndKeepsTheCautions) {
  const std::string page = map_html(sample(), kFacts);
  EXPECT_EQ(page.find("http://"), page.npos);
  EXPECT_EQ(page.find("https://"), page.npos);
  EXPECT_EQ(page.find("<b>"), page.npos) << "a name is text";
  for (const char* id : {"curve-1", "curve-4", "residual-4", "grid-0", "grid-1", "cautions"}) EXPECT_NE(page.find(id), page.npos) << id;
  EXPECT_NE(map_html(receiver(), kFacts).find("throttle"), std::string::npos);
}

}  // namespace
}  // namespace midstick::sweep
