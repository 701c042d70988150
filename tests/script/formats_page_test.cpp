// The examples of daemon/script/FORMATS.md are true: each heading "## NAME.json" is followed by that file, and all of them load together.
#include <gtest/gtest.h>
#include <unistd.h>

#include <filesystem>
#include <fstream>
#include <map>
#include <nlohmann/json.hpp>
#include <vector>

#include "daemon/script/load.hpp"
#include "daemon/script/schemas.hpp"

namespace midstick::script {
namespace {

namespace fs = std::filesystem;

/// File name -> content, by the page's headings.
std::map<std::string, std::string> examples() {
  std::map<std::string, std::string> out;
  std::ifstream page(MIDSTICK_FORMATS);
  std::string heading;
  bool inside = false;
  for (std::string line; std::getline(page, line);) {
    if (line.starts_with("## ")) {
      heading = line.substr(3);
    } else if (line.starts_with("```")) {
      inside = line == "```json";
    } else if (inside) {
      out[heading] += line + "\n";
    }
  }
  return out;
}

/// The page's "```json-members" blocks: members that replace those of the mixer example.
std::vector<std::string> member_examples() {
  std::vector<std::string> out;
  std::ifstream page(MIDSTICK_FORMATS);
  bool inside = false;
  for (std::string line; std::getline(page, line);) {
    if (line.starts_with("```")) {
      if (line == "```json-members") out.emplace_back();
      inside = line == "```json-members";
    } else if (inside) {
      out.back() += line + "\n";
    }
  }
  return out;
}

class FormatsPage : public ::testing::Test {
 protected:
  void SetUp() override {
    folder_ = fs::path(::testing::TempDir()) / ("midstick-formats-" + std::to_string(::getpid()));
    fs::create_directories(folder_);
    for (const auto& [name, text] : examples()) std::ofstream(folder_ / name) << text;
  }
  void TearDown() override { fs::remove_all(folder_); }
  fs::path folder_;
};

TEST_F(FormatsPage, HasOneValidExampleOfEachKind) {
  ASSERT_EQ(examples().size(), kFileKinds.size());
  for (const FileKind kind : kFileKinds) {
    const auto answer = validate_file((folder_ / (std::string(name(kind)) + ".json")).string());
    ASSERT_TRUE(answer) << answer.error().message;
    EXPECT_EQ(answer->kind, kind);
  }
}

TEST_F(FormatsPage, MembersShownByThemselvesAreValidInAMixer) {
  ASSERT_GE(member_examples().size(), 2u);
  for (const std::string& members : member_examples()) {
    nlohmann::json mixer = {{"format", "midstick mixer 1"},        {"name", "example"},
                            {"throttle", {{"input", "throttle"}}}, {"steering", {{"input", "steering"}}},
                            {"left", {{"output", "left"}}},        {"right", {{"output", "right"}}}};
    mixer.update(nlohmann::json::parse("{" + members + "}"));
    std::ofstream(folder_ / "members.json") << mixer.dump(2);
    const auto answer = validate_file((folder_ / "members.json").string());
    EXPECT_TRUE(answer) << answer.error().message << "\n" << members;
  }
}

TEST_F(FormatsPage, PlanLoadsWithItsFiles) {
  const auto plan = load_plan((folder_ / "plan.json").string());
  ASSERT_TRUE(plan) << plan.error().message;
  EXPECT_EQ(plan->checks.size(), 5u);
  EXPECT_TRUE(plan->checks[3].script.has_value());
}

}  // namespace
}  // namespace midstick::script
