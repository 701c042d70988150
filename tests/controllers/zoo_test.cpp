// The zoo's list and the mower's files agree with each other, with the published formats and with the images that are built.
#include <gtest/gtest.h>

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>
#include <set>

#include "daemon/judge/causes.hpp"
#include "daemon/judge/check.hpp"
#include "daemon/script/load.hpp"
#include "daemon/script/timeline.hpp"

namespace midstick::controllers {
namespace {

namespace fs = std::filesystem;
using nlohmann::json;

const fs::path kControllers = fs::path(MIDSTICK_SOURCE) / "fixtures/controllers";
const fs::path kMower = fs::path(MIDSTICK_SOURCE) / "fixtures/mower";

json zoo() { return json::parse(std::ifstream(kControllers / "zoo.json")); }

std::vector<json> entries() {
  std::vector<json> all;
  const json list = zoo();
  for (const char* part : {"correct", "faulty"}) all.insert(all.end(), list[part].begin(), list[part].end());
  return all;
}

fs::path description_of(const json& entry) { return fs::path(MIDSTICK_IMAGES) / (entry["id"].get<std::string>() + ".json"); }

fs::path mixer_of(const std::string& style) {
  const json list = zoo();
  for (const json& each : list["styles"])
    if (each["style"] == style) return kControllers / each["mixer"].get<std::string>();
  ADD_FAILURE() << "no style " << style;
  return {};
}

script::Plan plan_of(const json& entry) {
  const auto plan = script::load_plan((kControllers / zoo()["plan"].get<std::string>()).string(), description_of(entry).string());
  EXPECT_TRUE(plan.ok()) << entry["id"] << ": " << (plan.ok() ? "" : plan.error().message);
  if (!plan.ok()) return {};
  auto own = script::with_mixer(*plan, mixer_of(entry["style"]).string());
  EXPECT_TRUE(own.ok()) << entry["id"] << ": " << (own.ok() ? "" : own.error().message);
  return own.ok() ? own.take() : script::Plan{};
}

TEST(Zoo, HoldsACorrectControllerOfEachStyleAndNamesEachOnce) {
  const json list = zoo();
  std::set<std::string> ids, styles;
  for (const json& entry : entries()) EXPECT_TRUE(ids.insert(entry["id"]).second) << entry["id"];
  for (const json& each : list["styles"]) EXPECT_TRUE(styles.insert(each["style"]).second) << each;
  for (const std::string& style : styles) EXPECT_TRUE(ids.count(style + "-correct")) << style;
}

TEST(Zoo, EveryEntryIsOfItsStyleAndHasAnImageOfItsOwn) {
  for (const json& entry : entries()) {
    const std::string id = entry["id"], style = entry["style"];
    EXPECT_EQ(id.rfind(style + "-", 0), 0u) << id;
    const script::Plan plan = plan_of(entry);
    const fs::path built = fs::path(MIDSTICK_IMAGES) / (id + ".elf");
    ASSERT_TRUE(fs::exists(built)) << built;
    EXPECT_TRUE(fs::equivalent(plan.controller.image, built)) << plan.controller.image;
  }
}

TEST(Zoo, EveryFaultyEntryNamesChecksAndACauseThatExist) {
  std::set<std::string> kinds;
  for (const auto& kind : judge::check_kinds()) kinds.insert(kind.kind);
  const json list = zoo();
  for (const json& entry : list["faulty"]) {
    EXPECT_TRUE(kinds.count(entry["fails"])) << entry["id"] << ": " << entry["fails"];
    for (const json& drag : entry["drags"]) EXPECT_TRUE(kinds.count(drag)) << entry["id"] << ": " << drag;
    EXPECT_NE(judge::known_cause(entry["cause"]), nullptr) << entry["id"] << ": " << entry["cause"];
    EXPECT_GE(entry["catalogue"].get<int>(), 1);
  }
}

TEST(Zoo, EveryImageThatIsBuiltIsInTheList) {
  std::set<std::string> listed;
  for (const json& entry : entries()) listed.insert(entry["id"]);
  std::set<std::string> styles;
  const json all = zoo();
  for (const json& each : all["styles"]) styles.insert(each["style"]);
  for (const auto& file : fs::directory_iterator(MIDSTICK_IMAGES)) {
    const std::string name = file.path().stem().string();
    if (file.path().extension() != ".json" || !styles.count(name.substr(0, name.find('-')))) continue;
    EXPECT_TRUE(listed.count(name)) << name;
  }
}

TEST(Mower, EveryFileIsValid) {
  int files = 0;
  for (const auto& file : fs::recursive_directory_iterator(kMower)) {
    // A stick script alone has no endpoints to be read against: the plan that names it is checked with it.
    if (file.path().extension() != ".json" || file.path().parent_path() != kMower) continue;
    const auto valid = script::validate_file(file.path().string());
    EXPECT_TRUE(valid.ok()) << (valid.ok() ? "" : valid.error().message);
    ++files;
  }
  EXPECT_EQ(files, 5);
}

TEST(Mower, NightlyPlanHasEveryCheckButSoakAndHostPortAndEveryStickScript) {
  const auto plan = script::load_plan((kMower / "nightly.json").string());
  ASSERT_TRUE(plan.ok()) << plan.error().message;
  std::set<std::string> kinds, scripts;
  for (const auto& check : plan->checks) {
    kinds.insert(check.kind);
    if (check.script) scripts.insert(check.script->name);
  }
  EXPECT_EQ(kinds.size(), judge::check_kinds().size() - 2);
  EXPECT_FALSE(kinds.contains("soak") || kinds.contains("host-port"));
  const auto files = std::distance(fs::directory_iterator(kMower / "sticks"), fs::directory_iterator{});
  EXPECT_EQ(static_cast<std::ptrdiff_t>(scripts.size()), files);
}

TEST(Mower, NightTakesAtMostSevenMinutesOfBoardTime) {
  const auto plan = script::load_plan((kMower / "nightly.json").string());
  ASSERT_TRUE(plan.ok()) << plan.error().message;
  double seconds = 0;
  for (const auto& check : plan->checks)
    for (const auto& kind : judge::check_kinds()) {
      if (check.kind != kind.kind) continue;
      const auto sticks = kind.compose(*plan, check, plan->seed);
      ASSERT_TRUE(sticks.ok()) << sticks.error().message;
      if (sticks->moves.empty()) continue;  // not run
      const auto timeline = script::compile(*sticks, plan->controller, plan->seed);
      ASSERT_TRUE(timeline.ok()) << timeline.error().message;
      seconds += static_cast<double>(timeline->length.count) / 1e9 * check.repeats;
    }
  EXPECT_GT(seconds, 60);
  EXPECT_LT(seconds, 420);
}

}  // namespace
}  // namespace midstick::controllers
