// The zoo's list and the mower's files agree with each other, with the published formats and with the images that are built.
#include <gtest/gtest.h>

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>
#include <set>

#include "daemon/judge/check.hpp"
#include "daemon/script/load.hpp"
#include "daemon/script/timeline.hpp"
#include "tests/controllers/emulated_drive.hpp"

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

script::Plan plan_of(const json& entry) {
  auto plan = script::load_plan((kControllers / entry["plan"].get<std::string>()).string(),
                                (kControllers / entry["controller"].get<std::string>()).string());
  EXPECT_TRUE(plan.ok()) << entry["id"] << ": " << (plan.ok() ? "" : plan.error().message);
  return plan.ok() ? plan.take() : script::Plan{};
}

TEST(Zoo, HoldsOneCorrectControllerAndEightFaultyOnes) {
  EXPECT_EQ(zoo()["correct"].size(), 1u);
  EXPECT_EQ(zoo()["faulty"].size(), 8u);
  std::set<std::string> ids;
  for (const json& entry : entries()) EXPECT_TRUE(ids.insert(entry["id"]).second) << entry["id"];
}

TEST(Zoo, EveryEntryNamesItsOwnImageWhichIsBuilt) {
  for (const json& entry : entries()) {
    const script::Plan plan = plan_of(entry);
    const fs::path built = image_path(entry["id"]);
    ASSERT_TRUE(fs::exists(built)) << built;
    EXPECT_TRUE(fs::equivalent(plan.controller.image, built)) << plan.controller.image;
  }
}

TEST(Zoo, EveryFaultyEntryNamesACheckOfItsPlanAndACause) {
  const json list = zoo();
  for (const json& entry : list["faulty"]) {
    const script::Plan plan = plan_of(entry);
    EXPECT_TRUE(std::any_of(plan.checks.begin(), plan.checks.end(), [&](const auto& check) { return check.name == entry["fails"]; }))
        << entry["id"];
    EXPECT_GT(entry["catalogue"].get<int>(), 0);
    EXPECT_FALSE(entry["cause"].get<std::string>().empty());
  }
}

TEST(Zoo, EveryControllerDescriptionIsInTheList) {
  std::set<std::string> listed;
  for (const json& entry : entries()) listed.insert(entry["controller"]);
  for (const auto& file : fs::directory_iterator(kControllers)) {
    if (file.path().extension() != ".json" || file.path().filename() == "zoo.json") continue;
    EXPECT_TRUE(listed.count(file.path().filename().string())) << file.path();
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
  EXPECT_EQ(files, 3);
}

TEST(Mower, NightlyPlanHasAllNineChecksAndEveryStickScript) {
  const auto plan = script::load_plan((kMower / "nightly.json").string());
  ASSERT_TRUE(plan.ok()) << plan.error().message;
  std::set<std::string> kinds, scripts;
  for (const auto& check : plan->checks) {
    kinds.insert(check.kind);
    if (check.script) scripts.insert(check.script->name);
  }
  EXPECT_EQ(kinds.size(), 9u);
  const auto files = std::distance(fs::directory_iterator(kMower / "sticks"), fs::directory_iterator{});
  EXPECT_EQ(static_cast<std::ptrdiff_t>(scripts.size()), files);
}

TEST(Mower, NightTakesAtMostFourMinutesOfBoardTime) {
  const auto plan = script::load_plan((kMower / "nightly.json").string());
  ASSERT_TRUE(plan.ok()) << plan.error().message;
  double seconds = 0;
  for (const auto& check : plan->checks)
    for (const auto& kind : judge::check_kinds()) {
      if (check.kind != kind.kind) continue;
      const auto sticks = kind.compose(*plan, check, plan->seed);
      ASSERT_TRUE(sticks.ok()) << sticks.error().message;
      const auto timeline = script::compile(*sticks, plan->controller, plan->seed);
      ASSERT_TRUE(timeline.ok()) << timeline.error().message;
      seconds += static_cast<double>(timeline->length.count) / 1e9 * check.repeats;
    }
  EXPECT_GT(seconds, 60);
  EXPECT_LT(seconds, 240);
}

}  // namespace
}  // namespace midstick::controllers
