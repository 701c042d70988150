// A receiver swept on the virtual bench: stimulus lines looped to the capture lines play a receiver whose sticks a person moves.
#include "daemon/sweep/receiver_map.hpp"

#include <gtest/gtest.h>

#include "daemon/sweep/write_map.hpp"
#include "tests/e2e/played_receiver.hpp"

namespace midstick::sweep {
namespace {

using script::Move;
using Sticks = std::map<std::string, double>;

constexpr double kSeconds = 40;
const std::vector<std::string> kChannels{"throttle", "steering"};

/// How this person's transmitter is set.
struct Transmitter {
  double centre[2]{1512, 1491}, low[2]{1062, 1101}, high[2]{1934, 1899};
  double steering_left_at{0};  ///< the steering stick does not come back by this, after its high end
  bool goes_up{true};
};

Move moved(Sticks from, Sticks to, double ms) {
  Move move;
  move.kind = Move::Kind::ramp;
  move.from = std::move(from), move.to = std::move(to), move.for_ms = ms;
  return move;
}

/// Does what each step asks: half of the time on the way, the other half there.
script::StickScript person(const Transmitter& t) {
  script::StickScript out;
  Sticks now{{"throttle", t.centre[0]}, {"steering", t.centre[1]}};
  const auto go = [&](Sticks to, double ms) {
    out.moves.push_back(moved(now, to, ms / 2)), out.moves.push_back(moved(to, to, ms / 2));
    now = std::move(to);
  };
  const auto steps = receiver_steps(kChannels);
  go(now, steps[0].share * kSeconds * 1e3);
  for (std::size_t s = 1; s < steps.size(); ++s) {
    const std::size_t c = (s - 1) / 4, part = (s - 1) % 4;
    Sticks to = now;
    const double back = t.centre[c] + (c == 1 && part == 3 ? t.steering_left_at : 0);
    to[kChannels[c]] = part == 0 ? t.low[c] : part == 2 && t.goes_up ? t.high[c] : part == 2 ? t.low[c] : back;
    if (part % 2 == 0) {
      go(to, steps[s].share * kSeconds * 1e3);
    } else {
      out.moves.push_back(moved(now, to, 200)), out.moves.push_back(moved(to, to, steps[s].share * kSeconds * 1e3 - 200));
      now = to;
    }
  }
  return out;
}

Result<ReceiverMap> swept(const Transmitter& transmitter) {
  const auto steps = receiver_steps(kChannels);
  std::vector<engine::RecordStep> asked;
  for (const auto& s : steps) asked.push_back({s.mark.c_str(), s.prompt.c_str(), s.share});
  const auto capture = e2e::listened(person(transmitter), kSeconds, asked);
  EXPECT_TRUE(capture) << capture.error().message;
  return receiver_map_of(*capture, kChannels, "workshop receiver");
}

TEST(ReceiverMap, FindsCentresEndsAndTrimsWithinTheirUncertainty) {
  const Transmitter t;
  const auto map = swept(t);
  ASSERT_TRUE(map) << map.error().message;
  ASSERT_EQ(map->channels.size(), 2u);
  EXPECT_NEAR(map->period_us.value, 20'000, map->period_us.u);
  for (std::size_t c = 0; c < 2; ++c) {
    const ChannelMap& m = map->channels[c];
    EXPECT_NEAR(m.low.value, t.low[c], m.low.u) << m.name;
    EXPECT_NEAR(m.centre.value, t.centre[c], m.centre.u) << m.name;
    EXPECT_NEAR(m.high.value, t.high[c], m.high.u) << m.name;
    EXPECT_NEAR(m.trim.value, t.centre[c] - 1500, m.trim.u) << m.name;
    EXPECT_NEAR(m.back_from_high.value, 0, m.back_from_high.u) << m.name;
    EXPECT_LT(m.low.u, 1) << m.name;
    EXPECT_LT(m.others_us, 1) << m.name;
  }
}

TEST(ReceiverMap, StickThatDoesNotComeBackShows) {
  Transmitter t;
  t.steering_left_at = 6;
  const auto map = swept(t);
  ASSERT_TRUE(map) << map.error().message;
  EXPECT_NEAR(map->channels[1].back_from_high.value, 6, map->channels[1].back_from_high.u);
  EXPECT_NEAR(map->channels[1].back_from_low.value, 0, map->channels[1].back_from_low.u);
}

TEST(ReceiverMap, StickThatWasNotMovedBothWaysIsRefused) {
  Transmitter t;
  t.goes_up = false;
  const auto map = swept(t);
  ASSERT_FALSE(map);
  EXPECT_NE(map.error().message.find("both ends"), std::string::npos) << map.error().message;
}

}  // namespace
}  // namespace midstick::sweep
