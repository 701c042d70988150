// Same plan, seed and images: the same report but for when and where. And a stored run judged again gives the answer it had.
#include <fstream>

#include "daemon/engine/rejudge.hpp"
#include "tests/e2e/whole_run.hpp"

namespace midstick::e2e {
namespace {

nlohmann::json without_when_and_where(const std::string& report) {
  auto j = nlohmann::json::parse(report);
  j.at("run").erase("when");
  j.at("run").erase("where");
  return j;
}

std::string file_text(const std::filesystem::path& path) {
  std::ifstream in(path, std::ios::binary);
  return {std::istreambuf_iterator<char>(in), {}};
}

TEST(RepeatedRun, GivesTheSameReportAndCapture) {
  const ScratchFolder scratch;
  const auto plan = source("tests/e2e/short.json"), controller = source("fixtures/mower/controller.json");
  const engine::VirtualConditions conditions{1234, -2345, 777, 5};
  const auto first = run_on_virtual(plan, controller, scratch / "one", conditions, 99);
  const auto second = run_on_virtual(plan, controller, scratch / "two", conditions, 99);
  ASSERT_TRUE(first.ok() && second.ok());
  EXPECT_EQ(without_when_and_where(first->report_json).dump(1), without_when_and_where(second->report_json).dump(1));
  EXPECT_EQ(file_text(scratch / "one" / "capture.json"), file_text(scratch / "two" / "capture.json"));
  EXPECT_GT(std::filesystem::file_size(scratch / "one" / "capture.json"), 10'000u);
}

TEST(RepeatedRun, AnotherSeedGivesAnotherCapture) {
  const ScratchFolder scratch;
  const auto plan = source("tests/e2e/short.json"), controller = source("fixtures/mower/controller.json");
  ASSERT_TRUE(run_on_virtual(plan, controller, scratch / "one", {}, 1).ok());
  ASSERT_TRUE(run_on_virtual(plan, controller, scratch / "two", {}, 2).ok());
  EXPECT_NE(file_text(scratch / "one" / "capture.json"), file_text(scratch / "two" / "capture.json"));
}

TEST(StoredRun, JudgedAgainGivesTheSameVerdictsAndMeasures) {
  const ScratchFolder scratch;
  const auto outcome = run_on_virtual(source("tests/e2e/short.json"), source("fixtures/mower/controller.json"), scratch / "run");
  ASSERT_TRUE(outcome.ok()) << outcome.error().message;
  const auto again = engine::rejudge(scratch / "run", "", "");
  ASSERT_TRUE(again.ok()) << again.error().message;
  const auto before = nlohmann::json::parse(outcome->report_json), after = nlohmann::json::parse(again->report_json);
  EXPECT_EQ(before.at("checks").dump(1), after.at("checks").dump(1));
  EXPECT_EQ(before.at("verdict"), after.at("verdict"));
}

TEST(StoredRun, JudgedUnderAStricterSpecFails) {
  const ScratchFolder scratch;
  const auto outcome = run_on_virtual(source("tests/e2e/short.json"), source("fixtures/mower/controller.json"), scratch / "run");
  ASSERT_TRUE(outcome.ok()) << outcome.error().message;
  const auto again = engine::rejudge(scratch / "run", source("tests/e2e/other-neutral.json"), "");
  ASSERT_TRUE(again.ok()) << again.error().message;
  EXPECT_EQ(again->result.verdict, judge::Verdict::fail) << verdicts(again->result);
}

}  // namespace
}  // namespace midstick::e2e
