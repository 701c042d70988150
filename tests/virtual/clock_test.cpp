// Each chip has its own clock, and true time is exact.
#include "fixtures/virtual/true_time.hpp"
#include "tests/virtual/support.hpp"

namespace midstick::virtual_bench {
namespace {

TEST(ChipClock, CycleAndInstantConvertBackExactlyForHours) {
  ChipClock clock(16'000'000, -4999.5);
  clock.start(77, instant_ps(123'456));
  for (std::uint64_t cycle = 77; cycle < 16'000'000ull * 86'400; cycle = cycle * 3 + 1) {
    EXPECT_EQ(clock.cycle_from(clock.at(cycle)), cycle);
    EXPECT_EQ(clock.cycle_from({clock.at(cycle).units + 1}), cycle + 1);
  }
  EXPECT_EQ(clock.cycle_from(instant_ps(0)), 77u);  // before the start
}

TEST(ChipClock, RunsFastByItsError) {
  const ChipClock exact(16'000'000, 0), fast(16'000'000, 5000);
  EXPECT_EQ(exact.at(16'000'000).ps(), 1'000'000'000'000);
  EXPECT_NEAR(static_cast<double>(fast.at(16'080'000).ps()), 1e12, 2);
}

// The toggler's output changes every 8000 cycles of its own clock: 500 us at 16 MHz.
class ClockError : public testing::TestWithParam<std::pair<double, double>> {};

TEST_P(ClockError, ShowsInTheRecord) {
  const auto [board_ppm, controller_ppm] = GetParam();
  auto options = with_controller("board_pulse", "toggler");
  options.board_ppm = board_ppm;
  options.controller_ppm = controller_ppm;
  auto bench = make_bench(options);
  bench->run_for(host_ms(1000));
  const auto edges = edges_of(bench->truth(), Wire::response, 0);
  const double board_period = 62'500 / (1 + board_ppm * 1e-6), half_wave = 500'000'000 / (1 + controller_ppm * 1e-6);
  ASSERT_NEAR(static_cast<double>(edges.size()), 1e12 / half_wave, 2);
  for (std::size_t i = 1; i < edges.size(); ++i) {
    EXPECT_EQ(edges[i].controller_cycle - edges[i - 1].controller_cycle, 8000u) << i;
    EXPECT_NEAR(static_cast<double>(edges[i].source_ps - edges[i - 1].source_ps), half_wave, 2) << i;
    // The board sees it at its first cycle after that.
    EXPECT_GE(edges[i].true_ps, edges[i].source_ps) << i;
    EXPECT_LE(static_cast<double>(edges[i].true_ps - edges[i].source_ps), board_period + 1) << i;
  }
  const auto pulses = edges_of(bench->truth(), Wire::stimulus, 0);
  ASSERT_GE(pulses.size(), 98u);
  EXPECT_NEAR(static_cast<double>(pulses[1].true_ps - pulses[0].true_ps), 24000 * board_period, 2);
}
INSTANTIATE_TEST_SUITE_P(Ppm, ClockError,
                         testing::Values(std::pair{0.0, 0.0}, std::pair{5000.0, -5000.0}, std::pair{-5000.0, 5000.0},
                                         std::pair{12.5, 100'000.0}));

TEST(ControllerPhase, DelaysTheFirstInstruction) {
  for (const double phase_us : {0.0, 0.03, 2500.0}) {
    auto options = with_controller("board_pulse", "toggler");
    options.controller_phase_us = phase_us;
    auto bench = make_bench(options);
    bench->run_for(host_ms(10));
    const auto relay = edges_of(bench->truth(), Wire::relay);
    const auto first = edges_of(bench->truth(), Wire::response, 1);  // goes high at the start of main
    ASSERT_EQ(relay.size(), 1u);
    ASSERT_EQ(first.size(), 1u);
    const double start_up = static_cast<double>(first[0].controller_cycle - 0) * 62'500;
    EXPECT_NEAR(static_cast<double>(first[0].source_ps - relay[0].true_ps), phase_us * 1e6 + start_up, 1) << phase_us;
  }
}

}  // namespace
}  // namespace midstick::virtual_bench
