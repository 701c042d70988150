// What `midstick export` writes: read back by a JSON parser and a CSV reader written from RFC 4180, not from the code.
#include "daemon/store/export.hpp"

#include <nlohmann/json.hpp>

#include "daemon/store/files.hpp"
#include "tests/records/engines.hpp"

namespace midstick::records_test {
namespace {

namespace fs = std::filesystem;
using nlohmann::json;

class Export : public WithRecords {
 protected:
  std::string file(const fs::path& path) { return must(store::read_file(path, 1 << 24)); }
};
MIDSTICK_ON_BOTH_ENGINES(Export);

using Cells = std::vector<std::vector<std::string>>;

Cells read_csv(const std::string& text) {
  Cells rows(1, {""});
  bool quoted = false;
  for (std::size_t i = 0; i < text.size(); ++i) {
    const char c = text[i];
    if (quoted && c == '"' && i + 1 < text.size() && text[i + 1] == '"') {
      rows.back().back() += text[++i];
    } else if (c == '"') {
      quoted = !quoted;
    } else if (!quoted && c == ',') {
      rows.back().emplace_back();
    } else if (!quoted && c == '\r' && text[i + 1] == '\n') {
      ++i;
      rows.push_back({""});
    } else {
      rows.back().back() += c;
    }
  }
  rows.pop_back();  // after the last CRLF
  return rows;
}

TEST_P(Export, JsonHoldsEveryRunWithChecksAndMetricsOldestFirst) {
  const auto first =
      play(*records_, request("rev \"A\", µ"), "fail", 1'764'090'000'123, {{"link-loss", "fail", "drives on", "no failsafe", false}},
           {{"neutral", "µs", 1.0 / 3, 0.25}, {"plain", "", 2, {}}});
  const auto second = play(*records_, request(), "pass", 1'764'090'000'123);
  must(store::export_json(*records_, {}, scratch_.path() / "out.json"));
  const json out = json::parse(file(scratch_.path() / "out.json"));
  EXPECT_EQ(out["format"], "midstick export 1");
  ASSERT_EQ(out["runs"].size(), 2u);
  const json& run = out["runs"][0];
  EXPECT_EQ(run["id"], first.id);
  EXPECT_EQ(out["runs"][1]["id"], second.id);
  EXPECT_EQ(run["build"], "rev \"A\", µ");
  EXPECT_EQ(run["began"], "2025-11-25T17:00:00.123Z");
  EXPECT_EQ(run["ended"], "2025-11-25T17:01:00.123Z");
  EXPECT_EQ(
      run["checks"],
      (json{{{"name", "link-loss"}, {"verdict", "fail"}, {"summary", "drives on"}, {"cause", "no failsafe"}, {"quarantined", false}}}));
  EXPECT_EQ(run["metrics"][0]["value"].get<double>(), 1.0 / 3);
  EXPECT_EQ(run["metrics"][0]["uncertainty"], 0.25);
  EXPECT_TRUE(run["metrics"][1]["uncertainty"].is_null());
}

TEST_P(Export, CsvSurvivesCommasQuotesAndLineBreaks) {
  const auto run = play(*records_, request("a,b"), "fail", 1'764'090'000'123,
                        {{"link-loss", "fail", "says \"no\"\r\nand drives, on", "", true}}, {{"neutral", "µs", 1500.0625, {}}});
  must(store::export_csv(*records_, {}, scratch_.path() / "csv"));
  const auto runs = read_csv(file(scratch_.path() / "csv" / "runs.csv"));
  ASSERT_EQ(runs.size(), 2u);
  ASSERT_EQ(runs[0].size(), runs[1].size());
  EXPECT_EQ(runs[0][0], "id");
  EXPECT_EQ(runs[1][0], std::to_string(run.id));
  EXPECT_EQ(runs[0][4], "build");
  EXPECT_EQ(runs[1][4], "a,b");
  const std::string id = std::to_string(run.id);
  EXPECT_EQ(read_csv(file(scratch_.path() / "csv" / "checks.csv")),
            (Cells{{"run", "name", "verdict", "summary", "cause", "quarantined"},
                   {id, "link-loss", "fail", "says \"no\"\r\nand drives, on", "", "true"}}));
  EXPECT_EQ(read_csv(file(scratch_.path() / "csv" / "metrics.csv")),
            (Cells{{"run", "name", "unit", "value", "uncertainty"}, {id, "neutral", "µs", "1500.0625", ""}}));
}

TEST_P(Export, GoesOverAllPagesAndKeepsToTheFilter) {
  for (int i = 0; i < 205; ++i) play(*records_, request(), i % 5 == 0 ? "fail" : "pass", i);
  must(store::export_json(*records_, {}, scratch_.path() / "all.json"));
  EXPECT_EQ(json::parse(file(scratch_.path() / "all.json"))["runs"].size(), 205u);
  must(store::export_json(*records_, {"", "", "fail", "", 0, 1}, scratch_.path() / "fails.json"));
  EXPECT_EQ(json::parse(file(scratch_.path() / "fails.json"))["runs"].size(), 41u);
}

TEST_P(Export, CopiesTheFoldersThatAreThere) {
  const auto there = std::to_string(play(*records_, request(), "fail", 1).id);
  play(*records_, request(), "fail", 1);
  const fs::path runs = scratch_.path() / "runs";
  fs::create_directories(runs / there);
  must(store::replace_file(runs / there / "report.html", "page"));
  must(store::export_folders(*records_, {}, runs, scratch_.path() / "copy"));
  EXPECT_EQ(file(scratch_.path() / "copy" / there / "report.html"), "page");
  EXPECT_EQ(std::distance(fs::directory_iterator(scratch_.path() / "copy"), fs::directory_iterator()), 1);
}

}  // namespace
}  // namespace midstick::records_test
