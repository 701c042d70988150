// Plans: what is loaded with them, what is stored, and how a stored one is used again.
#include <gtest/gtest.h>
#include <unistd.h>

#include <algorithm>
#include <filesystem>
#include <fstream>

#include "daemon/script/draw_order.hpp"
#include "daemon/script/load.hpp"
#include "daemon/script/schema_validator.hpp"

namespace midstick::script {
namespace {

namespace fs = std::filesystem;
using nlohmann::json;

const std::string kGood = MIDSTICK_CORPUS "/good/";

Plan loaded() {
  auto plan = load_plan(kGood + "plan-every-check.json");
  EXPECT_TRUE(plan) << plan.error().message;
  return plan ? plan.take() : Plan{};
}

TEST(LoadPlan, HoldsEverythingTheFilesSay) {
  const Plan plan = loaded();
  EXPECT_EQ(plan.name, "nightly");
  EXPECT_EQ(plan.path, kGood + "plan-every-check.json");
  EXPECT_EQ(plan.seed, 12u);
  EXPECT_TRUE(plan.shuffle);
  EXPECT_EQ(plan.frame.dither_us, 25);
  EXPECT_EQ(plan.frame.period_us, 20000);
  EXPECT_EQ(plan.spec.name, "bank mower");
  EXPECT_EQ(plan.controller.name, "bank mower drive");
  ASSERT_GE(plan.checks.size(), 13u);
  EXPECT_EQ(plan.checks[0].kind, "neutral");
  EXPECT_EQ(plan.checks[0].name, "neutral");
  EXPECT_EQ(plan.checks[0].repeats, 2);
  EXPECT_EQ(plan.checks[2].name, "own sticks");
}

TEST(LoadPlan, ParametersAreCompleteAndHoldNothingElse) {
  const Plan plan = loaded();
  const json& params = plan.checks[0].params;
  EXPECT_EQ(params.at("for_ms"), 1000) << "as given";
  EXPECT_EQ(params.at("settle_ms"), schema(FileKind::plan)["definitions"]["neutral"]["properties"]["settle_ms"]["default"]);
  for (const char* common : {"check", "name", "repeats", "script"}) EXPECT_FALSE(params.contains(common)) << common;
}

TEST(LoadPlan, ScriptIsReadAgainstThePlansMixerAndFrame) {
  const Plan plan = loaded();
  ASSERT_TRUE(plan.checks[2].script.has_value());
  EXPECT_FALSE(plan.checks[1].script.has_value());
  EXPECT_EQ(plan.checks[2].script->moves[0].from.at("throttle"), 1750);
  EXPECT_EQ(plan.checks[2].script->frame.dither_us, 25) << "the script gives no frame of its own";
}

TEST(LoadPlan, MixerFromTheCommandLineWins) {
  const auto plan = load_plan(kGood + "plan-every-check.json", std::nullopt, kGood + "mixer-clip.json");
  ASSERT_TRUE(plan) << plan.error().message;
  EXPECT_NE(plan->document["mixer"]["mix"]["law"], loaded().document["mixer"]["mix"]["law"]);
  EXPECT_EQ(plan->document["mixer"]["mix"]["law"], "clip") << "the run's folder stores the one that was used";
}

TEST(LoadPlan, ControllerFromTheCommandLineWins) {
  const auto plan = load_plan(kGood + "plan-every-check.json", kGood + "controller-full.json");
  ASSERT_TRUE(plan) << plan.error().message;
  EXPECT_EQ(plan->controller.chip, "atmega328p");
  EXPECT_EQ(plan->controller.image, fs::absolute(kGood + "controller-full.json").lexically_normal().string());
  EXPECT_EQ(plan->controller.inputs[1].line_no, 5);
  EXPECT_EQ(plan->controller.outputs[1].line_no, 7);
  EXPECT_EQ(plan->controller.outputs[0].port, 'B');
  EXPECT_EQ(plan->controller.outputs[0].bit, 1);
}

TEST(LoadPlan, WithoutAnyControllerIsRefused) {
  const auto plan = load_plan(kGood + "plan-least.json");
  ASSERT_FALSE(plan);
  EXPECT_NE(plan.error().message.find("found no \"controller\"; expected one here or on the command line"), std::string::npos);
  EXPECT_TRUE(load_plan(kGood + "plan-least.json", kGood + "controller-least.json"));
}

TEST(PlanDocument, BuildsTheSamePlanAgain) {
  const Plan plan = loaded();
  // Through text, as a run folder stores it.
  const auto again = plan_from_document(json::parse(plan.document.dump()), "run");
  ASSERT_TRUE(again) << again.error().message;
  EXPECT_EQ(again->document, plan.document);
  EXPECT_EQ(again->seed, plan.seed);
  ASSERT_EQ(again->checks.size(), plan.checks.size());
  for (std::size_t i = 0; i < plan.checks.size(); ++i) EXPECT_EQ(again->checks[i].params, plan.checks[i].params);
  ASSERT_TRUE(again->checks[2].script.has_value());
  EXPECT_EQ(again->checks[2].script->moves[0].from, plan.checks[2].script->moves[0].from);
  EXPECT_EQ(again->path, "run");
}

TEST(PlanDocument, HoldsNoPathOfTheMachine) { EXPECT_EQ(loaded().document.dump().find(fs::absolute(kGood).string()), std::string::npos); }

TEST(PlanDocument, MissingOrDamagedPartsAreRefused) {
  const json whole = loaded().document;
  for (const char* part : {"plan", "mixer", "controller", "sticks"}) {
    json cut = whole;
    cut.erase(part);
    const auto plan = plan_from_document(cut, "run");
    ASSERT_FALSE(plan) << part;
    EXPECT_EQ(plan.error().kind, ErrorKind::bad_file);
  }
  json wrong = whole;
  wrong["mixer"]["throttle"]["low_us"] = "short";
  const auto plan = plan_from_document(wrong, "run");
  ASSERT_FALSE(plan);
  EXPECT_EQ(plan.error().message, "run (mixer): at /throttle/low_us: found \"short\"; expected a number (Width at -100 %, us.)");
  EXPECT_FALSE(plan_from_document(json(5), "run"));
}

TEST(WithMixer, JudgesTheSamePlanByAnotherSpec) {
  const Plan plan = loaded();
  const auto other = with_mixer(plan, kGood + "mixer-full.json");
  ASSERT_TRUE(other) << other.error().message;
  EXPECT_EQ(other->spec.law, mixer::Law::blend);
  EXPECT_EQ(other->document["mixer"]["mix"]["law"], "blend");
  EXPECT_EQ(other->document["plan"], plan.document["plan"]);
  EXPECT_EQ(other->checks.size(), plan.checks.size());
  EXPECT_DOUBLE_EQ(other->checks[2].script->moves[0].from.at("throttle"), 1502.5 + 0.5 * (1990 - 1502.5)) << "percent by the new spec";
}

TEST(WithMixer, NamesThatDoNotMatchAreRefused) {
  const auto other = with_mixer(loaded(), MIDSTICK_CORPUS "/names/mixer-rudder.json");
  ASSERT_FALSE(other);
  EXPECT_NE(other.error().message.find("at /steering/input: found the input \"rudder\""), std::string::npos);
}

TEST(WithSeed, ChangesTheSeedEverywhere) {
  const auto other = with_seed(loaded(), 99);
  ASSERT_TRUE(other) << other.error().message;
  EXPECT_EQ(other->seed, 99u);
  EXPECT_EQ(other->document["plan"]["seed"], 99);
  EXPECT_FALSE(with_seed(loaded(), std::uint64_t{1} << 32));
}

Plan of_checks(std::size_t count, bool shuffle, std::uint64_t seed) {
  Plan plan;
  plan.checks.resize(count);
  plan.shuffle = shuffle;
  plan.seed = seed;
  return plan;
}

TEST(CheckOrder, IsAsGivenUnlessShuffled) { EXPECT_EQ(check_order(of_checks(4, false, 7)), (std::vector{0, 1, 2, 3})); }

TEST(CheckOrder, ShuffledIsAPermutationByTheSeed) {
  const auto first = check_order(of_checks(20, true, 7));
  auto sorted = first;
  std::ranges::sort(sorted);
  EXPECT_EQ(sorted, check_order(of_checks(20, false, 7)));
  EXPECT_EQ(first, check_order(of_checks(20, true, 7)));
  EXPECT_NE(first, check_order(of_checks(20, true, 8)));
  EXPECT_NE(first, sorted);
}

TEST(CheckOrder, EveryOrderOfThreeIsAboutAsLikely) {
  std::map<std::vector<int>, int> seen;
  for (std::uint64_t seed = 0; seed < 6000; ++seed) ++seen[check_order(of_checks(3, true, seed))];
  EXPECT_EQ(seen.size(), 6u);
  for (const auto& [order, times] : seen) EXPECT_NEAR(times, 1000, 130);  // over 4 sigma
}

}  // namespace
}  // namespace midstick::script
