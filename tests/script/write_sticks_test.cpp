// Scripts to text and back: the same script again, whatever is in it.
#include "daemon/script/write_sticks.hpp"

#include <gtest/gtest.h>

#include "daemon/script/draw.hpp"
#include "daemon/script/readers.hpp"
#include "tests/script/describe.hpp"

namespace midstick::script {
namespace {

StickSetting setting() {
  StickSetting out;
  out.spec.throttle = {.name = "throttle", .low_us = 1100, .centre_us = 1500, .high_us = 2000};
  out.spec.steering = {.name = "steering", .low_us = 1000, .centre_us = 1520, .high_us = 2000, .reversed = true};
  out.controller.name = "drive";
  out.controller.inputs = {{"throttle", "S1", 0, 0, 0}, {"steering", "S2", 1, 0, 0}};
  return out;
}

StickScript read(const std::string& text) {
  const auto with = setting();
  const auto checked = read_source(text, "f", FileKind::sticks);
  EXPECT_TRUE(checked) << checked.error().message << '\n' << text;
  if (!checked) return {};
  const auto script = read_sticks(checked->source, &with);
  EXPECT_TRUE(script) << script.error().message << '\n' << text;
  return script ? *script : StickScript{};
}

class Maker {
 public:
  explicit Maker(std::uint64_t seed) : draw_(seed) {}

  StickScript script() {
    StickScript s;
    s.name = "made \"up\"";
    s.seed = static_cast<std::uint64_t>(draw_.within(0, 0xFFFFFFFF));
    s.frame.period_us = value(18000, 22000);
    s.frame.jitter_us = value(0, 3);
    s.frame.dither_us = value(0, 30);
    if (flip()) s.frame.phase_us = {{"throttle", value(200, 900)}, {"steering", value(3000, 4000)}};
    for (auto n = draw_.within(1, 8); n > 0; --n) s.moves.push_back(move());
    return s;
  }

 private:
  bool flip() { return draw_.within(0, 1) == 1; }
  double value(std::int64_t low, std::int64_t high) { return static_cast<double>(draw_.within(low * 1000, high * 1000)) / 1e3; }
  std::map<std::string, double> sticks() { return {{"throttle", value(1000, 2000)}, {"steering", value(1000, 2000)}}; }

  Move move() {
    Move m;
    m.kind = static_cast<Move::Kind>(draw_.within(0, 3));
    m.from = sticks();
    m.for_ms = value(100, 900);
    if (m.kind == Move::Kind::ramp) m.to = sticks();
    if (m.kind == Move::Kind::sine)
      m.amplitude_us = {{"throttle", value(10, 90)}, {"steering", value(10, 90)}}, m.period_ms = value(50, 900);
    if (m.kind == Move::Kind::points) {
      m.point_ms = value(30, 500);
      for (auto n = draw_.within(1, 5); n > 0; --n) m.points.push_back(sticks());
      m.for_ms = m.point_ms * static_cast<double>(m.points.size());
    }
    const auto fault = static_cast<Fault>(draw_.within(0, 5));
    if (fault != Fault::none)
      m.faults.push_back(
          {flip() ? "throttle" : "steering", fault, fault == Fault::notch ? value(100, 200) : value(5000, 6000), value(20, 60)});
    if (flip()) m.actions = {static_cast<ActionKind>(draw_.within(0, 2)), ActionKind::power_on};
    if (flip()) m.mark = "a mark";
    return m;
  }

  Draw draw_;
};

/// The reader gives points the position before them, which nothing plays.
StickScript without_unplayed(StickScript s) {
  for (Move& m : s.moves)
    if (m.kind == Move::Kind::points) m.from.clear();
  return s;
}

TEST(WriteSticks, ComeBackAsTheSameScript) {
  for (std::uint64_t seed = 1; seed <= 200; ++seed) {
    const StickScript made = Maker(seed).script();
    EXPECT_EQ(described(without_unplayed(read(sticks_text(made, {})))), described(without_unplayed(made))) << "seed " << seed;
  }
}

TEST(WriteSticks, InPercentComeBackWithinAThousandthOfAMicrosecond) {
  const auto spec = setting().spec;
  for (std::uint64_t seed = 1; seed <= 50; ++seed) {
    const StickScript made = Maker(seed).script();
    ASSERT_TRUE(fits_percent(made, spec));
    const StickScript back = read(sticks_text(made, {}, &spec));
    ASSERT_EQ(back.moves.size(), made.moves.size()) << "seed " << seed;
    for (std::size_t i = 0; i < made.moves.size(); ++i) {
      if (made.moves[i].kind == Move::Kind::points) continue;
      for (const auto part : {&Move::from, &Move::to, &Move::amplitude_us})
        for (const auto& [input, us] : made.moves[i].*part) EXPECT_NEAR((back.moves[i].*part).at(input), us, 0.001) << "seed " << seed;
    }
  }
}

TEST(WriteSticks, WritesWhatAPersonWouldWrite) {
  StickScript s;
  s.name = "lost link";
  Move drive;
  drive.from = {{"throttle", 1750}, {"steering", 1520}};
  drive.for_ms = 400;
  Move lost = drive;
  lost.faults = {{"throttle", Fault::drop}};
  s.moves = {drive, lost};
  const auto spec = setting().spec;
  EXPECT_EQ(sticks_text(s, {"what it\nshows"}, &spec), R"(// what it shows
{
  "format": "midstick sticks 1",
  "name": "lost link",
  "seed": 1,
  "unit": "percent",
  "frame": {"period_us":20000},
  "moves": [
    {"hold":{"steering":0,"throttle":50},"for_ms":400},
    {"hold":{"steering":0,"throttle":50},"for_ms":400,"faults":[{"input":"throttle","fault":"drop"}]}
  ]
}
)");
}

TEST(WriteSticks, WidthsBeyondTwiceTheTravelDoNotFitPercent) {
  StickScript s;
  Move wild;
  wild.from = {{"throttle", 2600}};
  s.moves = {wild};
  EXPECT_FALSE(fits_percent(s, setting().spec));
}

TEST(WriteSticks, RefusesWhatTheFormatHasNoRoomFor) {
  StickScript s;
  s.name = "long";
  s.moves.resize(2001);
  for (Move& m : s.moves) m.for_ms = 100;
  const auto written = write_sticks("/nonexistent/long.json", s, {});
  ASSERT_FALSE(written);
  EXPECT_EQ(written.error().kind, ErrorKind::bad_file);
  s.moves.resize(1);
  const auto nowhere = write_sticks("/nonexistent/long.json", s, {});
  ASSERT_FALSE(nowhere);
  EXPECT_EQ(nowhere.error().kind, ErrorKind::io);
}

}  // namespace
}  // namespace midstick::script
