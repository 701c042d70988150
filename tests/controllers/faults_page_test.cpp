// The catalogue page tells of every faulty build, beside the check that zoo.json says must fail.
#include <gtest/gtest.h>

#include <fstream>
#include <map>
#include <nlohmann/json.hpp>
#include <sstream>

namespace midstick::controllers {
namespace {

const std::string kFolder = std::string(MIDSTICK_SOURCE) + "/fixtures/controllers/";

struct Row {
  std::string checks, builds;
};

std::map<int, Row> rows() {
  std::map<int, Row> all;
  std::ifstream page(kFolder + "FAULTS.md");
  for (std::string line; std::getline(page, line);) {
    std::vector<std::string> cells;
    std::stringstream text(line);
    for (std::string cell; std::getline(text, cell, '|');) cells.push_back(cell);
    if (cells.size() == 5 && cells[1].find_first_not_of(" 0123456789") == std::string::npos)
      all[std::stoi(cells[1])] = {cells[3], cells[4]};
  }
  return all;
}

/// Is `word` one of the comma-separated words?
bool names(const std::string& list, const std::string& word) {
  std::stringstream text(list);
  for (std::string entry; std::getline(text, entry, ',');) {
    entry.erase(0, entry.find_first_not_of(' '));
    entry.erase(entry.find_last_not_of(' ') + 1);
    if (entry == word) return true;
  }
  return false;
}

TEST(FaultsPage, HasARowForEveryNumber) {
  const auto all = rows();
  for (int n = 1; n <= 60; ++n) EXPECT_TRUE(all.contains(n)) << n;
}

TEST(FaultsPage, TellsOfEveryFaultyBuildAndNoOther) {
  const auto zoo = nlohmann::json::parse(std::ifstream(kFolder + "zoo.json"));
  const auto all = rows();
  std::string known;
  for (const auto& build : zoo["faulty"]) {
    const auto row = all.find(build["catalogue"]);
    ASSERT_NE(row, all.end()) << build["id"];
    EXPECT_TRUE(names(row->second.builds, build["id"])) << build["id"] << " in row " << row->first;
    EXPECT_TRUE(names(row->second.checks, build["fails"])) << build["id"] << " must fail " << build["fails"] << ", row " << row->first;
    known += build["id"].get<std::string>() + " ";
  }
  for (const auto& [number, row] : all) {
    std::stringstream text(row.builds);
    for (std::string entry; std::getline(text, entry, ',');) {
      entry.erase(0, entry.find_first_not_of(' '));
      entry.erase(entry.find_last_not_of(' ') + 1);
      if (entry.find(' ') == std::string::npos && !entry.empty()) {
        EXPECT_NE(known.find(entry + " "), std::string::npos) << number << ": " << entry;
      }
    }
  }
}

}  // namespace
}  // namespace midstick::controllers
