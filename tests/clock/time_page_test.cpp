// TIME.md says what the code says: units, wrap, states; and the clocks really do not mix.
#include <gtest/gtest.h>

#include <fstream>
#include <sstream>
#include <string>
#include <type_traits>
#include <vector>

#include "daemon/clock/estimator.hpp"
#include "daemon/core/time.hpp"
#include "protocol/wire_tick.hpp"

namespace midstick::clock {
namespace {

template <class A, class B>
constexpr bool kMix = requires(A a, B b) {
  a - b;
}
|| requires(A a, B b) { a < b; }
|| std::is_convertible_v<A, B>;

static_assert(kMix<HostTime, HostTime> && kMix<BoardTime, BoardTime> && kMix<ScriptTime, ScriptTime>);
static_assert(!kMix<HostTime, BoardTime> && !kMix<BoardTime, HostTime>);
static_assert(!kMix<HostTime, ScriptTime> && !kMix<ScriptTime, HostTime>);
static_assert(!kMix<BoardTime, ScriptTime> && !kMix<ScriptTime, BoardTime>);
static_assert(!kMix<protocol::WireTick, BoardTime> && !kMix<BoardTime, protocol::WireTick>);
static_assert(!std::is_convertible_v<std::int64_t, protocol::WireTick>);

std::string page() {
  std::ifstream file(TIME_PAGE);
  std::ostringstream text;
  text << file.rdbuf();
  return text.str();
}

/// First table whose head begins with `head`, as cells.
std::vector<std::vector<std::string>> table(const std::string& head) {
  std::istringstream lines(page());
  std::vector<std::vector<std::string>> rows;
  bool inside = false;
  for (std::string line; std::getline(lines, line);) {
    if (line.rfind("| " + head + " |", 0) == 0)
      inside = true;
    else if (inside && line.rfind("|", 0) != 0)
      break;
    else if (inside && line.rfind("|--", 0) != 0) {
      std::vector<std::string> cells;
      std::istringstream cut(line.substr(1));
      for (std::string cell; std::getline(cut, cell, '|');) {
        const auto first = cell.find_first_not_of(" `"), last = cell.find_last_not_of(" `");
        cells.push_back(first == std::string::npos ? "" : cell.substr(first, last - first + 1));
      }
      rows.push_back(cells);
    }
  }
  return rows;
}

TEST(TimePage, NamesEveryTimeTypeWithItsUnit) {
  const auto rows = table("type");
  ASSERT_EQ(rows.size(), 4u);
  const std::string tick_ns = "62.5 ns";
  EXPECT_EQ(ClockMap::kNominalNsPerTick, 62.5);
  EXPECT_EQ(host_ms(1).count, 1'000'000) << "1 ns";
  EXPECT_EQ(script_us(1).count, 1'000) << "1 ns";
  EXPECT_EQ(kTicksPerUs * 62.5, 1000.0);
  const std::vector<std::pair<std::string, std::string>> expected = {
      {"HostTime", "1 ns"}, {"WireTick", tick_ns}, {"BoardTime", tick_ns}, {"ScriptTime", "1 ns"}};
  for (std::size_t i = 0; i < rows.size(); ++i) {
    EXPECT_EQ(rows[i][0], expected[i].first);
    EXPECT_EQ(rows[i][2], expected[i].second);
  }
}

TEST(TimePage, SourcesItNamesHoldTheTypesItNames) {
  const std::string root = std::string(TIME_PAGE).substr(0, std::string(TIME_PAGE).rfind("/daemon/clock/"));
  for (const auto& row : table("type")) {
    std::ifstream file(root + "/" + row[3]);
    std::ostringstream text;
    text << file.rdbuf();
    EXPECT_NE(text.str().find(row[0]), std::string::npos) << row[3] << " has no " << row[0];
  }
}

TEST(TimePage, WrapIsThatOf32Bits) {
  EXPECT_NEAR(4294967296.0 / protocol::kTickRateHz, 268.4, 0.05);
  EXPECT_NE(page().find("wraps every 268.4 s"), std::string::npos);
  EXPECT_NE(page().find("134.2 s"), std::string::npos);
}

TEST(TimePage, ListsTheStatesInOrder) {
  const auto rows = table("state");
  std::vector<std::string> names;
  for (const auto& row : rows) names.push_back(row[0]);
  EXPECT_EQ(names, (std::vector<std::string>{"acquiring", "locked", "suspect", "lost"}));
  static_assert(static_cast<int>(ClockState::acquiring) == 0 && static_cast<int>(ClockState::lost) == 3);
}

TEST(TimePage, TargetIsTheEstimators) {
  EXPECT_EQ(EstimatorSettings{}.target_ppm, 100);
  EXPECT_NE(page().find("100 ppm is the target before the first pulse"), std::string::npos);
}

}  // namespace
}  // namespace midstick::clock
