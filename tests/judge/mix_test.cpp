// Checks of the mix and its stages: each seen passing on what its spec says and failing on what it does not, and what it takes to be the
// cause.
#include <gtest/gtest.h>

#include "daemon/mixer/model.hpp"
#include "tests/judge/world.hpp"

namespace midstick::judge_test {
namespace {

using judge::Verdict;
using mixer::DeadBandKind;
using mixer::Law;

using Change = std::function<void(mixer::MixerSpec&)>;

/// The check on a controller that mixes by `does`, judged by `asks`. Both start from the world's spec.
judge::CheckResult judged(const std::string& kind, const Change& asks, const Change& does, Behaviour behaviour = {}) {
  auto plan = plan_of({kind});
  asks(plan.spec);
  behaviour.mixes_by = plan.spec;
  does(*behaviour.mixes_by);
  return judge::judge_run(plan, run(plan, behaviour)).checks[0];
}

const Change kAsGiven = [](mixer::MixerSpec&) {};

std::string causes(const judge::CheckResult& r) {
  std::string text = r.summary;
  for (const auto& cause : r.causes) text += "\n" + cause.id + ": " + cause.reason;
  return text;
}

void expect_first(const judge::CheckResult& r, const std::string& cause) {
  EXPECT_EQ(r.verdict, Verdict::fail) << r.summary;
  ASSERT_FALSE(r.causes.empty()) << r.summary;
  EXPECT_EQ(r.causes.front().id, cause) << causes(r);
}

const Change kSlewed = [](mixer::MixerSpec& s) {
  for (auto* in : {&s.throttle, &s.steering}) in->slew_up = 2, in->slew_down = 4;
};
const Change kHysteresis = [](mixer::MixerSpec& s) {
  for (auto* in : {&s.throttle, &s.steering}) in->dead_band = DeadBandKind::hysteresis, in->dead_band_hysteresis_us = 6;
};

TEST(SlewCheck, PassesAtTheSpecsRatesAndMeasuresThem) {
  const auto r = judged("slew", kSlewed, kAsGiven);
  EXPECT_EQ(r.verdict, Verdict::pass) << r.summary;
  EXPECT_NEAR(measure(r, "throttle towards centre")->measured, 4, 0.4);
  EXPECT_NEAR(measure(r, "steering away from centre")->measured, 2, 0.2);
}

TEST(SlewCheck, NoLimitWhereOneIsAskedForFails) {
  expect_first(judged("slew", kSlewed, [](auto& s) { s.throttle.slew_up = s.throttle.slew_down = 0; }), "no-slew");
}

TEST(SlewCheck, AnotherRateFails) {
  expect_first(judged("slew", kSlewed, [](auto& s) { s.steering.slew_up = 3.5; }), "slew-rate");
  expect_first(judged("slew", kSlewed, [](auto& s) { s.throttle.slew_down = 2; }), "slew-rate");
}

TEST(SlewCheck, ALimitThatNobodyAskedForFails) { expect_first(judged("slew", kAsGiven, kSlewed), "slew-rate"); }

TEST(SlewCheck, OutputsThatDoNotAnswerAreNoPass) {
  Behaviour dead;
  dead.never_arms = true;
  EXPECT_EQ(judged("slew", kSlewed, kAsGiven, dead).verdict, Verdict::fail);
}

TEST(EdgeChatterCheck, AHysteresisIsQuiet) {
  Behaviour fine;
  fine.input_steps = false;
  const auto r = judged("edge-chatter", kHysteresis, kAsGiven, fine);
  EXPECT_EQ(r.verdict, Verdict::pass) << r.summary;
}

TEST(EdgeChatterCheck, AJumpBandInItsPlaceChatters) {
  Behaviour fine;
  fine.input_steps = false;
  const auto r = judged(
      "edge-chatter", kHysteresis, [](auto& s) { s.throttle.dead_band = DeadBandKind::jump; }, fine);
  expect_first(r, "no-hysteresis");
  EXPECT_GT(measure(r, "throttle high edge changes")->measured, 10);
  EXPECT_EQ(measure(r, "steering high edge changes")->verdict, Verdict::pass);
}

TEST(EdgeChatterCheck, AJumpBandThatTheSpecAsksForIsToldAndNotBlamed) {
  const Change jump = [](mixer::MixerSpec& s) { s.throttle.dead_band = s.steering.dead_band = DeadBandKind::jump; };
  Behaviour fine;
  fine.input_steps = false;
  const auto r = judged("edge-chatter", jump, kAsGiven, fine);
  EXPECT_EQ(r.verdict, Verdict::pass) << r.summary;
  EXPECT_GT(measure(r, "throttle high edge changes")->measured, 10);
  EXPECT_NE(measure(r, "throttle high edge changes")->note.find("told, not judged"), std::string::npos);
}

TEST(EdgeChatterCheck, AJumpWhereTheSpecHasNoneFails) {
  Behaviour fine;
  fine.input_steps = false;
  expect_first(judged(
                   "edge-chatter", kAsGiven, [](auto& s) { s.steering.dead_band = DeadBandKind::jump; }, fine),
               "dead-band-kind");
}

TEST(ChannelsCheck, TellsSwappedAndReversedFromAnotherLaw) {
  EXPECT_EQ(judged("channels", kAsGiven, kAsGiven).verdict, Verdict::pass);
  expect_first(judged("channels", kAsGiven, [](auto& s) { s.left.reversed = true; }), "reversed-or-swapped");
  expect_first(judged("channels", kAsGiven, [](auto& s) { s.steering.reversed = true; }), "reversed-or-swapped");
  expect_first(judged("channels", kAsGiven, [](auto& s) { s.law = Law::halved; }), "wrong-law");
}

/// Three inputs, three outputs.
script::Plan matrix_plan() {
  auto plan = plan_of({"channels"});
  plan.controller.inputs.push_back({"brake", "S3", 2, 0, 0});
  plan.controller.outputs.push_back({"flap", "P3", 4, 0, 0});
  plan.spec.law = Law::matrix;
  plan.spec.matrix = {{1, 0.5, 0}, {1, -0.5, 0}, {0.25, 0, 0.75}};
  plan.spec.more_inputs.resize(1);
  plan.spec.more_inputs[0].name = "brake";
  plan.spec.more_outputs.resize(1);
  plan.spec.more_outputs[0].name = "flap";
  return plan;
}

TEST(ChannelsCheck, JudgesEveryOutputOfAFreeMatrix) {
  const auto plan = matrix_plan();
  const auto good = judge::judge_run(plan, run(plan)).checks[0];
  EXPECT_EQ(good.verdict, Verdict::pass) << good.summary;
  EXPECT_NO_THROW(measure(good, "flap worst position"));
  Behaviour wrong;
  wrong.mixes_by = plan.spec;
  wrong.mixes_by->more_inputs[0].reversed = true;
  const auto bad = judge::judge_run(plan, run(plan, wrong)).checks[0];
  expect_first(bad, "reversed-or-swapped");
  EXPECT_EQ(measure(bad, "flap worst position")->verdict, Verdict::fail);
  EXPECT_EQ(measure(bad, "left worst position")->verdict, Verdict::pass);
}

TEST(ChannelsCheck, AnOutputThatIsNotWiredLeavesItUndecided) {
  const auto plan = matrix_plan();
  auto record = run(plan);
  std::erase_if(record.response, [](const auto& e) { return e.line == 4; });
  EXPECT_EQ(judge::judge_run(plan, record).checks[0].verdict, Verdict::inconclusive);
}

struct Wrong {
  const char* name;
  Change asks, does;
  const char* cause;
};
void PrintTo(const Wrong& w, std::ostream* out) { *out << w.name; }

class StaticMixCause : public testing::TestWithParam<Wrong> {};

TEST_P(StaticMixCause, ComesFirst) { expect_first(judged("static-mix", GetParam().asks, GetParam().does), GetParam().cause); }

INSTANTIATE_TEST_SUITE_P(
    Faults, StaticMixCause,
    testing::Values(Wrong{"clip", kAsGiven, [](auto& s) { s.law = Law::clip; }, "plain-clip"},
                    Wrong{"other_law", kAsGiven, [](auto& s) { s.law = Law::steering_priority; }, "wrong-law"},
                    Wrong{"other_blend", [](auto& s) { s.law = Law::blend, s.blend = 0.75; }, [](auto& s) { s.blend = 0.5; }, "wrong-law"},
                    Wrong{"car", kAsGiven, [](auto& s) { s.reverse_steering = mixer::ReverseSteering::car; }, "steering-flips"},
                    Wrong{"left_reversed", kAsGiven, [](auto& s) { s.left.reversed = true; }, "reversed-or-swapped"},
                    Wrong{"steering_reversed", kAsGiven, [](auto& s) { s.steering.reversed = true; }, "reversed-or-swapped"},
                    Wrong{"no_dead_band", kAsGiven, [](auto& s) { s.throttle.dead_band = s.steering.dead_band = DeadBandKind::none; },
                          "no-dead-band"},
                    Wrong{"no_expo", [](auto& s) { s.throttle.expo = s.steering.expo = 0.4; },
                          [](auto& s) { s.throttle.expo = s.steering.expo = 0; }, "no-expo"},
                    Wrong{"no_reverse_limit", [](auto& s) { s.left.reverse_limit = s.right.reverse_limit = 0.6; },
                          [](auto& s) { s.left.reverse_limit = s.right.reverse_limit = 1; }, "reverse-limit"},
                    Wrong{"stick_ends", kAsGiven,
                          [](auto& s) {
                            for (auto* in : {&s.throttle, &s.steering}) in->low_us = 1100, in->high_us = 1900;
                          },
                          "endpoint-mismatch"},
                    Wrong{"weak_right", kAsGiven, [](auto& s) { s.right.low_us = 1040, s.right.high_us = 1960; }, "side-gain"}),
    [](const auto& info) { return info.param.name; });

TEST(StaticMixCauses, NoneWhereNothingFits) {
  // Steering acts on one side only: no departure that is tried does that.
  const auto r = judged("static-mix", kAsGiven, [](auto& s) { s.law = Law::matrix, s.matrix = {{1, 0.9}, {0.8, 0.1}}; });
  EXPECT_EQ(r.verdict, Verdict::fail);
  EXPECT_TRUE(r.causes.empty()) << causes(r);
}

TEST(StaticMix, WaitsForSlewAndForARestBeforeReverse) {
  EXPECT_EQ(judged("static-mix", kSlewed, kAsGiven).verdict, Verdict::pass);
  // From ahead to reverse without a hold at neutral between: the default grid has one on every way.
  auto plan = plan_with(R"([{"check": "static-mix", "throttle_percent": [50, -50, 50, -50], "steering_percent": [10]}])");
  const double quick = length_ms(run(plan));
  plan.spec.turn_rest_ms = 300;
  EXPECT_GE(length_ms(run(plan)), quick + 2 * 290);
}

TEST(StaticMix, PassesUnderEveryLawAndStage) {
  for (const Law law : {Law::inner_wheel, Law::curvature, Law::elevon, Law::v_tail})
    EXPECT_EQ(judged(
                  "static-mix", [&](auto& s) { s.law = law; }, kAsGiven)
                  .verdict,
              Verdict::pass)
        << static_cast<int>(law);
  const auto all_stages = [](mixer::MixerSpec& s) {
    s.throttle.square = true, s.steering.expo = 0.3, s.steering.rate = 0.8, s.pivot_scale = 0.7, s.speed_scale = 0.3;
    s.left.start_offset = s.right.start_offset = 0.05, s.left.reverse_limit = 0.6, s.left.trim_us = 4;
  };
  const auto r = judged("static-mix", all_stages, kAsGiven);
  EXPECT_EQ(r.verdict, Verdict::pass) << r.summary;
}

TEST(DeadBandCauses, NoBandBeforeAnotherBand) {
  expect_first(judged("dead-band", kAsGiven, [](auto& s) { s.throttle.dead_band = s.steering.dead_band = DeadBandKind::none; }),
               "no-dead-band");
  expect_first(judged("dead-band", kAsGiven, [](auto& s) { s.throttle.dead_band_half_us = s.steering.dead_band_half_us = 50; }),
               "dead-band-kind");
}

TEST(NeutralCauses, AnOffsetOrTheClock) {
  Behaviour off;
  off.armed_off_us = 8, off.clock_ppm = 0;
  expect_first(judged("neutral", kAsGiven, kAsGiven, off), "neutral-off");
  Behaviour fast;
  fast.clock_ppm = 6700;
  expect_first(judged(
                   "neutral", [](auto& s) { s.frame.nominal_ms = 20; }, kAsGiven, fast),
               "clock-off");
}

TEST(LimitsCauses, OffCutOrBeyond) {
  const auto past = [](double us) {
    return [us](mixer::MixerSpec& s) {
      for (auto* out : {&s.left, &s.right}) out->low_us = out->clamp_low_us = 1000 - us;
    };
  };
  expect_first(judged("limits", kAsGiven, past(9)), "limit-off");
  expect_first(judged("limits", kAsGiven, past(128)), "limit-cut");
  expect_first(judged("limits", kAsGiven, past(230)), "beyond-esc-window");
  expect_first(judged("limits", kAsGiven, [](auto& s) { s.right.low_us = 1040, s.right.high_us = 1960; }), "side-gain");
}

}  // namespace
}  // namespace midstick::judge_test
