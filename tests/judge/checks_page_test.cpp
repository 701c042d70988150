// The page of checks lists every check, and no other.
#include <gtest/gtest.h>

#include <fstream>
#include <regex>
#include <set>

#include "daemon/judge/check.hpp"

namespace midstick::judge {
namespace {

TEST(ChecksPage, ListsEveryCheckWithWhatItAsks) {
  std::ifstream page(MIDSTICK_CHECKS_PAGE);
  ASSERT_TRUE(page);
  const std::regex row("^\\| `([a-z-]+)` \\| (.+) \\| ([0-9, ]*) ?\\|$");
  std::set<std::string> told, known;
  std::smatch match;
  for (std::string line; std::getline(page, line);)
    if (std::regex_match(line, match, row)) told.insert(match[1].str() + ": " + match[2].str());
  for (const CheckKind& k : check_kinds()) known.insert(std::string(k.kind) + ": " + k.about);
  EXPECT_EQ(told, known);
}

}  // namespace
}  // namespace midstick::judge
