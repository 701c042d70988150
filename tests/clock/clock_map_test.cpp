#include "daemon/clock/clock_map.hpp"

#include <gtest/gtest.h>
#include <rapidcheck.h>

namespace midstick::clock {
namespace {

TEST(ClockMap, FastBoardHasPositivePpmAndShorterTicks) {
  ClockMap map;
  map.ns_per_tick = 62.5 / 1.005;
  EXPECT_NEAR(map.ppm(), 5000, 1e-6);
  EXPECT_NEAR(map.us(BoardSpan{24'120}), 1500, 1e-9) << "1500 us take more ticks on a fast board";
  EXPECT_EQ(map.ticks(script_us(1500)), BoardSpan{24'120});
}

TEST(ClockMap, HundredPpmIs150nsOn1500us) {
  ClockMap map;
  map.uncertainty_ppm = 100;
  EXPECT_NEAR(map.rate_standard_us(BoardSpan{24'000}), 0.15 / 2.576, 1e-12);
  EXPECT_NEAR(map.rate_standard_us(BoardSpan{-24'000}), 0.15 / 2.576, 1e-12);
}

TEST(ClockMap, BoardAndHostTimeRoundTripToATick) {
  const bool held = rc::check("to_board(to_host(t)) is within a tick of t", [] {
    ClockMap map;
    map.board_origin = {*rc::gen::inRange<std::int64_t>(0, 1ll << 40)};
    map.host_origin = {*rc::gen::inRange<std::int64_t>(0, 1ll << 50)};
    map.ns_per_tick = 62.5 * (1 + *rc::gen::inRange(-5000, 5001) / 1e6);
    const BoardTime t{*rc::gen::inRange<std::int64_t>(0, 1ll << 40)};
    const auto off = map.to_board(map.to_host(t)).count - t.count;
    RC_ASSERT(off >= -1 && off <= 1);
  });
  EXPECT_TRUE(held);
}

}  // namespace
}  // namespace midstick::clock
