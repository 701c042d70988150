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
  EXPECT_EQ(mixer["throttle"]["dead_band"], json::parse(R"({"kind": "none", "half_width_us": 0})"));
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
    "throttle": {"input": "t"}, "steering": {"input": "s"}, "left": {"output": "l"}, "right": {"output": "r"}})", "f");
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
    "throttle": {"input": "t"}, "steering": {"input": "s"}, "left": {"output": "l", "low_us": 900, "high_us": 2100}, "right": {"output": "r"}})",
                                   "f");
  ASSERT_TRUE(checked) << checked.error().message;
  Source source = checked->source;
  const auto spec = read_mixer(source);
  ASSERT_TRUE(spec) << spec.error().message;
  EXPECT_EQ(spec->left.clamp_low_us, 900);
  EXPECT_EQ(spec->left.clamp_high_us, 2100);
  EXPECT_EQ(source.value["left"]["clamp_high_us"], 2100) << "and is stored with the run";
}

/// Every "default" in `node` must itself fit the rule that it stands in.
void expect_defaults_fit(const json& root, const json& node, const std::string& place) {
  if (node.is_object() && node.contains("default") && node.contains("type")) {
    const json& value = node["default"];
    const std::string type = node["type"];
    EXPECT_TRUE(type == "number"    ? value.is_number()
                : type == "integer" ? value.is_number_integer()
                : type == "boolean" ? value.is_boolean()
                : type == "string"  ? value.is_string()
                : type == "array"   ? value.is_array()
                                    : value.is_object())
        << place;
    if (node.contains("minimum")) EXPECT_GE(value.get<double>(), node["minimum"].get<double>()) << place;
    if (node.contains("maximum")) EXPECT_LE(value.get<double>(), node["maximum"].get<double>()) << place;
    if (node.contains("enum")) EXPECT_NE(std::find(node["enum"].begin(), node["enum"].end(), value), node["enum"].end()) << place;
  }
  if (node.is_structured())
    for (const auto& [key, inner] : node.items()) expect_defaults_fit(root, inner, place + "/" + key);
}

TEST(Defaults, FitTheirOwnRules) {
  for (const FileKind kind : kFileKinds) expect_defaults_fit(schema(kind), schema(kind), std::string(name(kind)));
}

}  // namespace
}  // namespace midstick::script
