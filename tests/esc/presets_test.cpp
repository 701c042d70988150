// The presets are what their names say, at whatever ends an output has.
#include <gtest/gtest.h>

#include <set>

#include "tests/esc/bench.hpp"

namespace midstick::esc_test {
namespace {

TEST(Presets, AreNamedOnceAndTheDefaultComesFirst) {
  std::set<std::string> names;
  for (const auto& p : esc::presets()) EXPECT_TRUE(names.insert(p.name).second) << p.name;
  EXPECT_GE(names.size(), 5U);
  EXPECT_STREQ(esc::presets().front().name, "direct");
  EXPECT_FALSE(esc::preset("unheard-of", 1000, 1500, 2000));
}

TEST(Presets, TakeTheOutputsEnds) {
  for (const auto& p : esc::presets()) {
    const auto s = esc::preset(p.name, 1100, 1460, 1860);
    ASSERT_TRUE(s);
    EXPECT_EQ(s->name, p.name);
    Bench b(*s);
    EXPECT_EQ(b.send(1460, 1500), State::neutral) << p.name;
    EXPECT_EQ(b.send(1860, 500), State::forward) << p.name;
  }
}

/// Full ahead, then back in three ways: at once, through neutral, from standstill.
std::string ways_back(const char* preset) {
  const auto s = *esc::preset(preset, 1000, 1500, 2000);
  std::string text;
  for (const double neutral_ms : {0.0, 40.0, 4000.0}) {
    Bench b(s);
    b.send(1500, 1500);
    b.send(2000, 1000);
    if (neutral_ms > 0) b.send(1500, neutral_ms);
    text += (text.empty() ? "" : ", ") + std::string(esc::name(b.send(1200, 200)));
  }
  return text;
}

TEST(Presets, DifferInHowTheyReverse) {
  EXPECT_EQ(ways_back("direct"), "reverse, reverse, reverse");
  EXPECT_EQ(ways_back("counted-arming"), "reverse, reverse, reverse");
  EXPECT_EQ(ways_back("soft-turn"), "dead time, dead time, reverse");
  EXPECT_EQ(ways_back("brake-only"), "brake, brake, brake");
  EXPECT_EQ(ways_back("brake-neutral-reverse"), "brake, reverse, reverse");
  EXPECT_EQ(ways_back("brake-stop-reverse"), "brake, brake, reverse");
  EXPECT_EQ(ways_back("timed-reverse"), "dead time, dead time, reverse");
  EXPECT_EQ(ways_back("strict"), "reverse, reverse, reverse");
}

TEST(Presets, StrictLocksOutWhenNeutralIsLate) {
  Bench b(*esc::preset("strict", 1000, 1500, 2000));
  b.silent(2100);
  EXPECT_EQ(b.send(1500, 1000), State::locked_out);
}

}  // namespace
}  // namespace midstick::esc_test
