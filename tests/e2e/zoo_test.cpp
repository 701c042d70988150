// Every controller of the zoo through the whole bench: the correct ones pass, each faulty one fails the check that is about its fault.
#include <fstream>

#include "tests/e2e/whole_run.hpp"

namespace midstick::e2e {
namespace {

struct Resident {
  std::string id;
  std::filesystem::path controller, plan;
  std::string fails;  ///< "" for a correct controller
};

std::vector<Resident> residents() {
  const auto file = source("fixtures/controllers/zoo.json");
  std::ifstream in(file);
  const auto zoo = nlohmann::json::parse(in);
  std::vector<Resident> all;
  for (const char* group : {"correct", "faulty"})
    for (const auto& z : zoo.at(group))
      all.push_back({z.at("id"), file.parent_path() / z.at("controller").get<std::string>(),
                     file.parent_path() / z.at("plan").get<std::string>(), z.value("fails", "")});
  return all;
}

class Zoo : public testing::TestWithParam<Resident> {};

TEST_P(Zoo, IsJudgedAsItsFaultDeserves) {
  const Resident& who = GetParam();
  const ScratchFolder scratch;
  const auto outcome = run_on_virtual(who.plan, who.controller, scratch / "run");
  ASSERT_TRUE(outcome.ok()) << outcome.error().message;
  ASSERT_FALSE(outcome->cut_short) << outcome->cut_short->message;
  const auto told = verdicts(outcome->result);
  EXPECT_EQ(engine::exit_code(outcome.value()), who.fails.empty() ? 0 : 1) << told;
  if (who.fails.empty()) return;
  bool found = false;
  for (const auto& check : outcome->result.checks) found = found || (check.name == who.fails && check.verdict == judge::Verdict::fail);
  EXPECT_TRUE(found) << "expected " << who.fails << " to fail\n" << told;
}

std::string id_of(const testing::TestParamInfo<Resident>& info) {
  std::string id = info.param.id;
  for (char& c : id)
    if (c == '-') c = '_';
  return id;
}

INSTANTIATE_TEST_SUITE_P(All, Zoo, testing::ValuesIn(residents()), id_of);

TEST(ZooFile, HasACorrectControllerAndEightFaultyBuilds) {
  std::size_t faulty = 0, correct = 0;
  for (const auto& r : residents()) (r.fails.empty() ? correct : faulty)++;
  EXPECT_GE(correct, 1u);
  EXPECT_GE(faulty, 8u);
}

}  // namespace
}  // namespace midstick::e2e
