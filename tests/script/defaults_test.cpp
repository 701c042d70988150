// Defaults come from the schema and from nowhere else.
#include <gtest/gtest.h>

#include "daemon/script/defaults.hpp"
#include "daemon/script/readers.hpp"
#include "daemon/script/schema_validator.hpp"

namespace midstick::script {
namespace {

using nlohmann::json;

TEST(Defaults, FillObjectsThatAreNotThereAtAll) {
  json mixer = json::parse(R"({"throttle": {}, "mix": {"law": "clip"}})");
  fill_defaults(FileKind::mixer, mixer);
  EXPECT_EQ(mixer["loss"]["safe_within_ms"], 500);
  EXPECT_EQ(mixer["throttle"]["dead_band"], json::parse(R"({"kind": "none", "half_width_us": 0, "hysteresis_us": 3, "softness": 0.1})"));
  EXPECT_EQ(mixer["mix"]["blend"], 0.5);
  EXPECT_FALSE(mixer.contains("steering")) << "a member without a default stays away";
}

TEST(Defaults, LeaveWhatIsGiven) {
  json mixer = json::parse(R"({"loss": {"safe_within_ms": 250}})");
  fill_defaults(FileKind::mixer, mixer);
  EXPECT_EQ(mixer["loss"]["safe_within_ms"], 250);
  EXPECT_EQ(mixer["loss"]["tolerate_frames"], 3);
}

TEST(Defaults, FollowTheAlternativeThatTheTagChooses) {
  json plan = json::parse(R"({"checks": [{"check": "power-up"}, {"check": "neutral"}]})");
  fill_defaults(FileKind::plan, plan);
  EXPECT_TRUE(plan["checks"][0].contains("cycles"));
  EXPECT_FALSE(plan["checks"][1].contains("cycles"));
  EXPECT_TRUE(plan["checks"][1].contains("tolerance_us"));
}

TEST(Defaults, OfTheMixerSchemaAreThoseOfTheMixerSpec) {
  const auto checked = read_source(R"({"format": "midstick mixer 1", "name": "n", "mix": {"law": "proportional"},
    "throttle": {"input": "t"}, "steering": {"input": "s"}, "left": {"output": "l"}, "right": {"output": "r"}})",
                                   "f");
  ASSERT_TRUE(checked) << checked.error().message;
  Source source = checked->source;
  const auto spec = read_mixer(source);
  ASSERT_TRUE(spec) << spec.error().message;
  const mixer::MixerSpec plain;
  EXPECT_EQ(spec->throttle.low_us, plain.throttle.low_us);
  EXPECT_EQ(spec->throttle.centre_us, plain.throttle.centre_us);
  EXPECT_EQ(spec->throttle.high_us, plain.throttle.high_us);
  EXPECT_EQ(spec->throttle.dead_band, plain.throttle.dead_band);
  EXPECT_EQ(spec->throttle.rate, plain.throttle.rate);
  EXPECT_EQ(spec->blend, plain.blend);
  EXPECT_EQ(spec->left.clamp_low_us, plain.left.clamp_low_us);
  EXPECT_EQ(spec->left.reverse_limit, plain.left.reverse_limit);
  EXPECT_EQ(spec->latency_max_ms, plain.latency_max_ms);
  EXPECT_EQ(spec->loss.safe_within_ms, plain.loss.safe_within_ms);
  EXPECT_EQ(spec->loss.safe_half_us, plain.loss.safe_half_us);
  EXPECT_EQ(spec->loss.pulses_may_stop, plain.loss.pulses_may_stop);
  EXPECT_EQ(spec->loss.tolerate_frames, plain.loss.tolerate_frames);
  EXPECT_EQ(spec->arm.neutral_ms, plain.arm.neutral_ms);
  EXPECT_EQ(spec->arm.neutral_half_us, plain.arm.neutral_half_us);
  EXPECT_EQ(spec->arm.boot_ms, plain.arm.boot_ms);
  EXPECT_EQ(spec->frame.period_low_ms, plain.frame.period_low_ms);
  EXPECT_EQ(spec->frame.period_high_ms, plain.frame.period_high_ms);
}

TEST(Defaults, ClampNotGivenIsTheOutputsOwnEnd) {
  const auto checked = read_source(R"({"format": "midstick mixer 1", "name": "n", "mix": {"law": "proportional"},
    "throttle": {"input": "t"}, "steering": {"input": "s"}, "left": {"output": "l", "low_us": 900, "high_us": 2100},
    "right": {"output": "r"}})",
                                   "f");
  ASSERT_TRUE(checked) << checked.error().message;
  Source source = checked->source;
  const auto spec = read_mixer(source);
  ASSERT_TRUE(spec) << spec.error().message;
  EXPECT_EQ(spec->left.clamp_low_us, 900);
  EXPECT_EQ(spec->left.clamp_high_us, 2100);
  EXPECT_EQ(source.value["left"]["clamp_high_us"], 2100) << "and is stored with the run";
}

TEST(Defaults, FitTheSchemaThatStatesThem) {
  json plan = json::parse(R"({"format": "midstick plan 1", "name": "n", "mixer": "m", "checks": []})");
  for (const json& alternative : schema(FileKind::plan)["definitions"]["check"]["oneOf"]) {
    const json& tag = resolved(schema(FileKind::plan), alternative)["properties"]["check"]["enum"][0];
    plan["checks"].push_back({{"check", tag}});
  }
  json mixer = json::parse(R"({"format": "midstick mixer 1", "name": "n", "mix": {"law": "clip"},
    "throttle": {"input": "t"}, "steering": {"input": "s"}, "left": {"output": "l"}, "right": {"output": "r"}})");
  json sticks = json::parse(R"({"format": "midstick sticks 1", "name": "n", "frame": {}, "moves": [
    {"list": [{}], "hold_ms": 20}, {"sine": {"around": {}, "amplitude": {}}, "for_ms": 20,
     "faults": [{"input": "all", "fault": "runt"}]}]})");
  json controller = json::parse(R"({"format": "midstick controller 1", "name": "n", "inputs": [{"name": "t", "line": "S1"}],
    "outputs": [{"name": "l", "line": "R1"}]})");
  for (auto [kind, value] :
       {std::pair(FileKind::plan, &plan), {FileKind::mixer, &mixer}, {FileKind::sticks, &sticks}, {FileKind::controller, &controller}}) {
    fill_defaults(kind, *value);
    const auto misfit = first_misfit(kind, *value);
    EXPECT_FALSE(misfit) << name(kind) << misfit->pointer << ": " << misfit->what;
  }
}

}  // namespace
}  // namespace midstick::script
