// The envelope is a true bound for correct controllers of many kinds, and faulty ones leave it, for the right cause.
#include <gtest/gtest.h>

#include "daemon/judge/envelope.hpp"
#include "daemon/judge/random_script.hpp"
#include "daemon/script/draw.hpp"
#include "tests/judge/world.hpp"

namespace midstick::judge_test {
namespace {

using judge::Verdict;

script::Plan random_plan(std::uint64_t seed, double for_ms = 20000) {
  return plan_with(R"([{"check": "random-sticks", "seed": )" + std::to_string(seed) + R"(, "for_ms": )" + std::to_string(for_ms) + "}]");
}

/// What the spec leaves to the controller, drawn.
Behaviour some_correct(std::uint64_t seed) {
  script::Draw draw(seed);
  const auto value = [&](std::int64_t low, std::int64_t high) { return static_cast<double>(draw.within(low * 10, high * 10)) / 10; };
  Behaviour b;
  b.frame_ms = value(15, 24);
  b.clock_ppm = value(-800, 800);
  b.boot_ms = value(20, 500);
  b.lost_ms = value(105, 420);
  b.arm_ms = value(505, 640);
  b.input_steps = draw.within(0, 1) == 0;
  b.width_noise_us = value(0, 3);
  b.delay_ms = value(0, 18);
  return b;
}

TEST(RandomSticks, NeverBlameACorrectController) {
  for (std::uint64_t seed = 1; seed <= 40; ++seed) {
    const auto plan = random_plan(seed);
    const auto result = judge::judge_run(plan, run(plan, some_correct(seed)));
    EXPECT_EQ(result.verdict, Verdict::pass) << "seed " << seed << '\n' << told(result);
  }
}

TEST(RandomSticks, NeverBlameACorrectControllerThatFallsSilentWhereItMay) {
  for (std::uint64_t seed = 1; seed <= 10; ++seed) {
    auto plan = random_plan(seed);
    plan.spec.loss.pulses_may_stop = true;
    Behaviour b = some_correct(seed);
    b.silent_on_loss = true;
    const auto result = judge::judge_run(plan, run(plan, b));
    EXPECT_EQ(result.verdict, Verdict::pass) << "seed " << seed << '\n' << told(result);
  }
}

struct Planted {
  const char* name;
  void (*plant)(Behaviour&);
  const char* cause;      ///< "" any or none
  const char* also = "";  ///< the same fault by its other name
};

class RandomSticksFind : public testing::TestWithParam<Planted> {};

TEST_P(RandomSticksFind, TheFaultAndItsCause) {
  int found = 0, right = 0;
  constexpr int kSeeds = 4;
  std::string all;
  for (std::uint64_t seed = 1; seed <= kSeeds; ++seed) {
    const auto plan = random_plan(seed, 60000);
    Behaviour b;
    GetParam().plant(b);
    const auto result = judge::judge_run(plan, run(plan, b));
    const auto& check = result.checks[0];
    found += check.verdict == Verdict::fail;
    all += "seed " + std::to_string(seed) + ": " + told(result);
    for (const auto& c : check.causes) all += "  " + c.id + " " + std::to_string(c.fit) + ": " + c.reason + '\n';
    if (check.verdict != Verdict::fail) continue;
    right += !check.causes.empty() && (check.causes[0].id == GetParam().cause || check.causes[0].id == GetParam().also);
    EXPECT_TRUE(check.evidence.at(0).failing);
  }
  EXPECT_EQ(found, kSeeds) << all;
  if (*GetParam().cause) {
    EXPECT_GE(right, kSeeds - 1) << all;
  }
}

constexpr Planted kPlanted[] = {
    {"HoldLast", [](Behaviour& b) { b.hold_last = true; }, "no-loss-action"},
    {"SteeringLossIgnored", [](Behaviour& b) { b.ignore_steering_loss = true; }, "one-channel-loss"},
    {"PlainClip", [](Behaviour& b) { b.clip = true; }, "plain-clip"},
    {"SteeringFlips", [](Behaviour& b) { b.flip_in_reverse = true; }, "steering-flips"},
    {"NoDeadBand", [](Behaviour& b) { b.no_dead_band = true; }, "no-dead-band"},
    {"NeutralOffOnceArmed", [](Behaviour& b) { b.armed_off_us = 8; }, ""},
    {"LimitTooLow", [](Behaviour& b) { b.right_low_us = 985; }, ""},
    {"NoArming", [](Behaviour& b) { b.no_arming = true; }, "no-rearm", "drives-without-neutral"},
    {"KickOnLoss", [](Behaviour& b) { b.kick_on_loss = true; }, ""},
    {"EagerLoss", [](Behaviour& b) { b.eager_loss = true; }, ""},
    {"NeverArms", [](Behaviour& b) { b.never_arms = true; }, ""},
    {"SlowAnswer", [](Behaviour& b) { b.delay_ms = 60; }, ""},
    {"RareSpikes", [](Behaviour& b) { b.outlier_us = 40; }, ""},
    {"SilentOnLoss", [](Behaviour& b) { b.silent_on_loss = true; }, ""},
};
INSTANTIATE_TEST_SUITE_P(Planted, RandomSticksFind, testing::ValuesIn(kPlanted),
                         [](const auto& info) { return std::string(info.param.name); });

TEST(RandomSticks, AreTheSameForTheSameSeedAndEndPoweredAtNeutral) {
  const auto plan = random_plan(1);
  const auto a = judge::random_moves(plan, 60000, 7, true), b = judge::random_moves(plan, 60000, 7, true);
  ASSERT_EQ(a.size(), b.size());
  for (std::size_t i = 0; i < a.size(); ++i) EXPECT_EQ(a[i].from, b[i].from);
  bool on = true;
  std::size_t faults = 0;
  for (const auto& m : a) {
    faults += !m.faults.empty();
    for (const auto action : m.actions) on = action != script::ActionKind::power_off;
  }
  EXPECT_TRUE(on);
  EXPECT_GT(faults, 4u);
  EXPECT_EQ(a.back().from.at("throttle"), 1500);
}

TEST(RandomSticks, CanAlwaysBePlayed) {
  for (std::uint64_t seed = 1; seed <= 200; ++seed) {
    const auto plan = random_plan(seed);
    script::StickScript script{"s", plan.frame, seed, judge::random_moves(plan, 60000, seed, true)};
    const auto timeline = script::compile(script, plan.controller, seed);
    EXPECT_TRUE(timeline) << "seed " << seed << ": " << timeline.error().message;
  }
}

TEST(Envelope, AllowsOnlyNeutralAfterALossAndOnlyTheSticksWhenArmed) {
  auto plan = random_plan(1);
  script::StickScript own;
  own.frame = plan.frame;
  script::Move drive;
  drive.from = {{"throttle", 1800}, {"steering", 1500}}, drive.for_ms = 400;
  script::Move lost = drive;
  lost.faults = {{"throttle", script::Fault::drop}, {"steering", script::Fault::drop}}, lost.for_ms = 900;
  own.moves = {drive, lost, drive};
  plan.checks[0].script = own;
  const auto record = run(plan);
  const judge::Context context{plan, plan.checks[0], record, record.segments};
  const auto traffic = judge::traffic_of(context);
  ASSERT_TRUE(traffic);
  const judge::Envelope envelope(plan, traffic->at(0), 20, 5);
  const auto at = [&](double ms) {
    const auto& t = traffic->at(0);
    return envelope.at(*t.output(judge::Side::left).last_fallen(t.segment().begin + t.ticks_ms(ms)));
  };
  const double arm = 800;  // the preamble
  ASSERT_TRUE(at(arm + 300) && at(arm + 700) && at(arm + 1200) && at(arm + 1600));
  EXPECT_EQ(at(arm + 300)->duty, judge::Duty::follow);
  EXPECT_GT(at(arm + 300)->driven[0].low, 1770);
  EXPECT_LT(at(arm + 300)->driven[0].high, 1815);
  EXPECT_EQ(at(arm + 700)->duty, judge::Duty::either) << "lost for 300 ms: it may be safe by now";
  EXPECT_EQ(at(arm + 1200)->duty, judge::Duty::lost);
  EXPECT_EQ(at(arm + 1200)->outside(judge::Side::left, 1800), 1800 - 1505);
  EXPECT_EQ(at(arm + 1600)->duty, judge::Duty::lost) << "back, but the sticks have not rested";
}

}  // namespace
}  // namespace midstick::judge_test
