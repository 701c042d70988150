// Random sticks on the virtual bench: correct controllers pass, faulty builds fail, and what fails is shrunk to a few actions.
#include <algorithm>
#include <fstream>
#include <iostream>

#include "daemon/engine/random_run.hpp"
#include "daemon/script/load.hpp"
#include "tests/e2e/whole_run.hpp"

namespace midstick::e2e {
namespace {

constexpr std::size_t kActions = 3;  // beside the arming preamble, which the check brings

std::filesystem::path image(const std::string& id) { return source("build/images/" + id + ".json"); }

Result<engine::RandomOutcome> random_sticks(const std::string& id, const std::filesystem::path& out, int runs, double for_ms = 60'000) {
  static const std::atomic<bool> never{false};
  engine::RandomRequest request;
  request.run.plan = source("fixtures/mower/nightly.json");
  request.run.bench = "virtual:" + image(id).string();
  request.run.out = out;
  request.runs = runs;
  request.for_ms = for_ms;
  return engine::random_run(request, never);
}

void shrinks(const std::string& id) {
  const ScratchFolder scratch;
  const auto outcome = random_sticks(id, scratch / "out", 4);
  ASSERT_TRUE(outcome.ok()) << outcome.error().message;
  ASSERT_TRUE(outcome->shrunk) << id << " was not found in " << outcome->played << " scripts of 60 s\n" << verdicts(outcome->run.result);
  std::ifstream file(scratch / "out" / "shrunk.json");
  const std::string text{std::istreambuf_iterator<char>(file), {}};
  EXPECT_TRUE(outcome->shrunk->reproduced) << text;
  EXPECT_LE(outcome->shrunk->script.moves.size(), kActions) << text;
  testing::Test::RecordProperty("shrunk", text);
  std::cout << id << ": seed " << outcome->seed << ", " << outcome->shrunk->runs << " runs\n" << text;

  // What was kept can be played again from its files, and fails again.
  const auto again = run_on_virtual(outcome->plan_again, image(id), scratch / "again");
  ASSERT_TRUE(again.ok()) << again.error().message;
  EXPECT_EQ(engine::exit_code(again.value()), 1) << verdicts(again->result);
}

TEST(RandomSticks, OfACorrectControllerPass) {
  const ScratchFolder scratch;
  const auto outcome = random_sticks("drive-correct", scratch / "out", 2, 20'000);
  ASSERT_TRUE(outcome.ok()) << outcome.error().message;
  EXPECT_EQ(engine::exit_code(outcome->run), 0) << verdicts(outcome->run.result);
  EXPECT_EQ(outcome->played, 2);
  EXPECT_FALSE(outcome->shrunk);
  for (const char* name : {"random-1.json", "random-1-plan.json", "random-2/report.html"})
    EXPECT_TRUE(std::filesystem::exists(scratch / "out" / name)) << name;
}

TEST(RandomSticks, OfAFaultyBuildAreShrunkToAFewActions) { shrinks("drive-hold-last"); }

class Shrink : public testing::TestWithParam<const char*> {};
TEST_P(Shrink, LeavesAFewActions) { shrinks(GetParam()); }

INSTANTIATE_TEST_SUITE_P(Soak, Shrink,
                         testing::Values("drive-ignore-steering-loss", "drive-clip", "drive-lopsided-limit", "drive-reverse-steering",
                                         "drive-no-dead-band", "drive-neutral-offset", "drive-boot-runt"),
                         [](const auto& info) {
                           std::string id = info.param;
                           std::replace(id.begin(), id.end(), '-', '_');
                           return id;
                         });

}  // namespace
}  // namespace midstick::e2e
