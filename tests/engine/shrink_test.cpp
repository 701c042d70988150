// Shrinking, against benches that are plain rules.
#include "daemon/engine/shrink.hpp"

#include <gtest/gtest.h>

#include <set>

#include "daemon/judge/random_script.hpp"
#include "daemon/script/write_sticks.hpp"

namespace midstick::engine {
namespace {

using script::Move;
using script::StickScript;

script::Plan plan() {
  script::Plan p;
  p.spec.throttle.name = "throttle", p.spec.steering.name = "steering";
  return p;
}

StickScript random_script(std::uint64_t seed) { return {"r", {}, seed, judge::random_moves(plan(), 60000, seed, true)}; }

bool drives(const Move& m) { return m.kind == Move::Kind::hold && m.from.at("throttle") > 1600; }
bool drops_all(const Move& m) {
  return m.faults.size() == 2 && m.faults[0].fault == script::Fault::drop && m.faults[1].fault == script::Fault::drop && m.for_ms > 600;
}
/// Fails when a driven hold comes right before a loss of everything.
bool fails_on_loss(const StickScript& s) {
  for (std::size_t i = 1; i < s.moves.size(); ++i)
    if (drives(s.moves[i - 1]) && drops_all(s.moves[i])) return true;
  return false;
}

TEST(Shrink, LeavesTheTwoMovesThatMatter) {
  int shrunk_ones = 0;
  for (std::uint64_t seed = 1; seed <= 30; ++seed) {
    const auto failing = random_script(seed);
    if (!fails_on_loss(failing)) continue;
    ++shrunk_ones;
    const auto shrunk = shrink(
        {failing, plan().spec, -1, 200}, [](const StickScript& s) -> Result<bool> { return fails_on_loss(s); }, nullptr);
    ASSERT_TRUE(shrunk);
    EXPECT_EQ(shrunk->script.moves.size(), 2u) << "seed " << seed;
    EXPECT_TRUE(shrunk->reproduced);
    EXPECT_FALSE(shrunk->ran_out);
    EXPECT_EQ(shrunk->script.moves[0].from.at("throttle"), 2000) << "a round number, seed " << seed;
    EXPECT_EQ(shrunk->script.moves[0].from.at("steering"), 1500);
    EXPECT_EQ(shrunk->script.moves[0].for_ms, 100);
    EXPECT_EQ(shrunk->script.moves[1].for_ms, 800);
  }
  EXPECT_GT(shrunk_ones, 5);
}

TEST(Shrink, GivesTheSameAnswerTwice) {
  std::uint64_t seed = 1;
  while (!fails_on_loss(random_script(seed))) ++seed;
  const Fails fails = [](const StickScript& s) -> Result<bool> { return fails_on_loss(s); };
  const auto a = shrink({random_script(seed), plan().spec, -1, 200}, fails, nullptr);
  const auto b = shrink({random_script(seed), plan().spec, -1, 200}, fails, nullptr);
  EXPECT_EQ(script::sticks_text(a->script, {}), script::sticks_text(b->script, {}));
  EXPECT_EQ(a->runs, b->runs);
}

TEST(Shrink, CutsAfterTheFirstFailingInstantFirst) {
  const auto failing = random_script(3);
  std::vector<std::size_t> asked;
  (void)shrink(
      {failing, plan().spec, 0, 1},
      [&](const StickScript& s) -> Result<bool> {
        asked.push_back(s.moves.size());
        return false;
      },
      nullptr);
  ASSERT_FALSE(asked.empty());
  EXPECT_LE(asked[0], 2u);
}

TEST(Shrink, NeverAsksMoreOftenThanAllowedNorTheSameTwice) {
  std::vector<std::string> asked;
  const auto shrunk = shrink(
      {random_script(1), plan().spec, -1, 10},
      [&](const StickScript& s) -> Result<bool> {
        asked.push_back(script::sticks_text(s, {}));
        return true;
      },
      nullptr);
  ASSERT_GE(asked.size(), 3u);
  EXPECT_LE(asked.size(), 12u) << "ten, and two that reproduce";
  EXPECT_EQ(shrunk->runs, static_cast<int>(asked.size()));
  asked.resize(asked.size() - 2);  // the two that reproduce
  EXPECT_EQ(std::set<std::string>(asked.begin(), asked.end()).size(), asked.size());
}

TEST(Shrink, SaysWhenItDoesNotReproduce) {
  int asked = 0;
  const auto shrunk = shrink(
      {random_script(1), plan().spec, -1, 5}, [&](const StickScript&) -> Result<bool> { return ++asked < 4; }, nullptr);
  EXPECT_FALSE(shrunk->reproduced);
}

TEST(Shrink, EndsWithTheBenchsError) {
  const auto shrunk = shrink(
      {random_script(1), plan().spec, -1, 5},
      [](const StickScript&) -> Result<bool> {
        return Error{ErrorKind::bench_missing, "gone"};
      },
      nullptr);
  ASSERT_FALSE(shrunk);
  EXPECT_EQ(shrunk.error().message, "gone");
}

}  // namespace
}  // namespace midstick::engine
