// The ESC in a mixer spec: presets, numbers that replace the preset's, ends taken from the output.
#include <gtest/gtest.h>

#include <fstream>
#include <sstream>

#include "daemon/esc/presets.hpp"
#include "daemon/script/readers.hpp"
#include "daemon/script/schemas.hpp"

namespace midstick::script {
namespace {

mixer::MixerSpec corpus(const std::string& name) {
  std::ifstream in(MIDSTICK_CORPUS "/good/" + name);
  std::stringstream text;
  text << in.rdbuf();
  auto checked = read_source(text.str(), name, FileKind::mixer);
  EXPECT_TRUE(checked) << checked.error().message;
  auto spec = read_mixer(checked->source);
  EXPECT_TRUE(spec) << spec.error().message;
  return spec.take();
}

TEST(EscInTheMixerSpec, IsAPresetWithNumbersOfItsOwn) {
  const auto left = *corpus("mixer-esc.json").left.esc;
  EXPECT_EQ(left.name, "brake-stop-reverse");
  EXPECT_EQ(left.reverse, esc::Reverse::after_standstill);
  EXPECT_EQ(left.neutral_half_us, 20);
  EXPECT_EQ(left.arm_count, 30);
  EXPECT_EQ(left.power_on, esc::PowerOn::lock_out);
}

TEST(EscInTheMixerSpec, TakesItsEndsFromTheOutputUnlessGiven) {
  const auto spec = corpus("mixer-esc.json");
  EXPECT_EQ(spec.left.esc->low_us, 1000);
  EXPECT_EQ(spec.left.esc->neutral_us, 1464) << "trim included";
  EXPECT_EQ(spec.left.esc->high_us, 1860);
  EXPECT_EQ(spec.right.esc->neutral_us, 1510);
  EXPECT_EQ(spec.right.esc->name, "direct");
  EXPECT_EQ(spec.right.esc->reverse, esc::Reverse::timed);
  EXPECT_EQ(spec.right.esc->dead_ms, 900);
  EXPECT_TRUE(spec.right.esc->over_range_cuts);
}

TEST(EscInTheMixerSpec, NoneGivenIsNone) { EXPECT_FALSE(corpus("mixer-clip.json").left.esc); }

TEST(EscInTheMixerSpec, SchemaAndFormatsPageNameEveryPreset) {
  const auto schema = nlohmann::json::parse(schema_text(FileKind::mixer));
  const auto& names = schema["definitions"]["esc"]["properties"]["preset"]["enum"];
  ASSERT_EQ(names.size(), esc::presets().size());
  std::ifstream in(MIDSTICK_FORMATS);
  std::stringstream page;
  page << in.rdbuf();
  for (std::size_t i = 0; i < names.size(); ++i) {
    EXPECT_EQ(names[i], esc::presets()[i].name);
    EXPECT_NE(page.str().find("| `" + std::string(esc::presets()[i].name) + "` |"), std::string::npos) << esc::presets()[i].name;
  }
}

}  // namespace
}  // namespace midstick::script
