// Power, reset, supply, stop loop and watchdog act as on the bench. The echo board takes its orders by letters, see its source.
#include "tests/virtual/support.hpp"

namespace midstick::virtual_bench {
namespace {

/// Give the board an order and let it act.
void order(VirtualBench& bench, std::string_view letters) {
  ASSERT_TRUE(send(bench, letters));
  bench.run_for(host_ms(5));
}

TEST(Power, ControllerRunsOnlyWhileTheRelayIsOn) {
  auto bench = make_bench(with_controller("board_echo", "toggler"));
  bench->run_for(host_ms(50));
  EXPECT_TRUE(edges_of(bench->truth(), Wire::response, 0).empty());
  EXPECT_FALSE(bench->controller_powered());
  order(*bench, "P");
  EXPECT_TRUE(bench->controller_powered());
  EXPECT_GE(edges_of(bench->take_truth(), Wire::response, 0).size(), 8u);
  bench->run_for(HostSpan{250'000});
  order(*bench, "p");
  EXPECT_FALSE(bench->controller_powered());
  const auto truth = bench->take_truth();
  ASSERT_FALSE(truth.empty());
  std::int64_t off = 0;
  for (const TrueEdge& edge : truth)
    if (edge.wire == Wire::relay) off = edge.true_ps;
  for (std::uint8_t line = 0; line < 2; ++line) {
    const auto edges = edges_of(truth, Wire::response, line);
    ASSERT_FALSE(edges.empty()) << int{line};
    EXPECT_FALSE(edges.back().level) << "low through the pull-downs";
    EXPECT_LE(edges.back().source_ps, off) << "and from then on silent";
  }
  bench->run_for(host_ms(100));
  EXPECT_TRUE(bench->truth().empty());
}

TEST(Power, PowerOnIsAFullResetWithUndefinedMemory) {
  int high = 0;
  for (std::uint64_t seed = 1; seed <= 40; ++seed) {
    auto options = with_controller("board_echo", "toggler");
    options.seed = seed;
    auto bench = make_bench(options);
    bench->run_for(host_ms(5));
    order(*bench, "P");
    high += static_cast<int>(edges_of(bench->truth(), Wire::response, 2).size());  // PD7 shows a bit of stale RAM
  }
  EXPECT_GT(high, 5) << "RAM at power-on should be a coin toss per seed";
  EXPECT_LT(high, 35);
}

TEST(Power, ResetKeepsMemoryAndPowerCycleLosesIt) {
  auto options = with_controller("board_echo", "toggler");
  for (options.seed = 1; options.seed < 100; ++options.seed) {
    auto bench = make_bench(options);
    bench->run_for(host_ms(5));
    order(*bench, "P");
    if (!edges_of(bench->take_truth(), Wire::response, 2).empty()) continue;  // wants RAM that begins with a zero there
    order(*bench, "r");
    order(*bench, "R");
    EXPECT_EQ(edges_of(bench->take_truth(), Wire::response, 2).size(), 1u) << "the program left a one in RAM";
    order(*bench, "p");
    order(*bench, "P");                                                        // by then another pattern
    if (edges_of(bench->take_truth(), Wire::response, 2).size() == 1) return;  // only the fall of the power-off
  }
  FAIL() << "no seed gave a zero at first and again after a power cycle";
}

TEST(Reset, HoldsTheControllerWithItsOutputsLow) {
  auto bench = make_bench(with_controller("board_echo", "toggler"));
  bench->run_for(host_ms(5));
  order(*bench, "P");
  order(*bench, "r");
  const auto truth = bench->take_truth();
  const auto line = edges_of(truth, Wire::controller_reset);
  ASSERT_EQ(line.size(), 1u);
  EXPECT_FALSE(line[0].level);
  EXPECT_FALSE(edges_of(truth, Wire::response, 1).back().level);
  EXPECT_EQ(edges_of(truth, Wire::response, 1).back().source_ps, line[0].true_ps);
  bench->run_for(host_ms(20));
  EXPECT_TRUE(bench->truth().empty());
  order(*bench, "R");
  EXPECT_TRUE(edges_of(bench->truth(), Wire::controller_reset).back().level);
  EXPECT_TRUE(edges_of(bench->truth(), Wire::response, 1).back().level) << "runs again from the start";
}

TEST(Supply, IsMeasuredBehindTheRelayThroughTheDivider) {
  auto options = board_only("board_echo");
  options.supply_mv = 8000;  // 2000 mV at the pin: 102 of 255
  auto bench = make_bench(options);
  bench->run_for(host_ms(5));
  const auto measured = [&](const char* orders, std::size_t answers) {
    EXPECT_TRUE(send(*bench, orders));
    const std::string got = receive(*bench, answers);
    return got.empty() ? -1 : static_cast<int>(static_cast<std::uint8_t>(got.back()));
  };
  EXPECT_EQ(measured("v", 1), 0);
  EXPECT_NEAR(measured("Pv", 1), 102, 1);
  bench->set_supply_mv(4000);
  EXPECT_NEAR(measured("v", 1), 51, 1);
}

TEST(StopLoop, OpensAndClosesBySchedule) {
  auto options = board_only("board_echo");
  options.stop_loop = {{{20'000'000}, false}, {{40'000'000}, true}};
  auto bench = make_bench(options);
  std::string answers;
  for (const std::int64_t ms : {10, 30, 50}) {
    bench->run_until({ms * 1'000'000});
    ASSERT_TRUE(send(*bench, "Ps"));  // writing the port must not disturb the pulled-up input
    answers += receive(*bench, 1);
  }
  EXPECT_EQ(answers, "coc");
  const auto edges = edges_of(bench->truth(), Wire::stop_loop);
  ASSERT_EQ(edges.size(), 2u);
  EXPECT_NEAR(static_cast<double>(edges[0].true_ps), 20e9, 62'500);
}

TEST(BoardReset, DropsRelayAndStartsAgain) {
  auto options = with_controller("board_echo", "toggler");
  options.board_resets = {{50'000'000}};
  auto bench = make_bench(options);
  bench->run_for(host_ms(5));
  ASSERT_TRUE(send(*bench, "mP"));
  EXPECT_EQ(receive(*bench, 1), std::string(1, 0x01));  // PORF
  bench->run_until({49'000'000});
  EXPECT_TRUE(bench->controller_powered());
  bench->run_until({60'000'000});
  EXPECT_FALSE(bench->controller_powered());
  EXPECT_EQ(bench->board_resets(), 1u);
  EXPECT_NEAR(static_cast<double>(edges_of(bench->truth(), Wire::relay).back().true_ps), 50e9, 500'000);
  ASSERT_TRUE(send(*bench, "m"));
  EXPECT_EQ(receive(*bench, 1), std::string(1, 0x02));  // EXTRF
}

TEST(Watchdog, RestartsABoardThatNoLongerFeedsIt) {
  auto bench = make_bench(board_only("board_echo"));
  bench->run_for(host_ms(5));
  ASSERT_TRUE(send(*bench, "PW"));
  bench->run_for(host_ms(100));
  EXPECT_EQ(bench->board_watchdog_resets(), 0u);
  bench->run_for(host_ms(60));  // 120 ms are over
  EXPECT_EQ(bench->board_watchdog_resets(), 1u);
  EXPECT_FALSE(edges_of(bench->truth(), Wire::relay).back().level);
  ASSERT_TRUE(send(*bench, "m"));
  EXPECT_EQ(receive(*bench, 1), std::string(1, 0x08));  // WDRF
}

}  // namespace
}  // namespace midstick::virtual_bench
