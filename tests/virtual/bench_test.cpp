// The virtual bench joins two emulated chips, a serial line and true time.
#include <cmath>

#include "tests/virtual/support.hpp"

namespace midstick::virtual_bench {
namespace {

TEST(VirtualBench, EchoesBytesThroughTheBoardsUart) {
  auto bench = make_bench(board_only("board_echo"));
  bench->run_for(host_ms(5));
  ASSERT_TRUE(send(*bench, "0123456789abcdef"));
  EXPECT_EQ(receive(*bench, 16), "0123456789abcdef");
  EXPECT_EQ(bench->board_uart_overruns(), 0u);
}

TEST(VirtualBench, ByteTakesItsTimeOnTheWireBothWays) {
  auto bench = make_bench(board_only("board_echo"));
  bench->run_for(host_ms(5));
  const HostTime before = bench->now();
  ASSERT_TRUE(send(*bench, "x"));
  ASSERT_EQ(receive(*bench, 1), "x");
  const std::int64_t took = (bench->now() - before).count;
  EXPECT_GE(took, 40'000);  // 20 us each way at 500 kbaud
  EXPECT_LE(took, 55'000);  // and two interrupts of the firmware
}

TEST(VirtualBench, JoinsStimulusToControllerAndOutputToResponse) {
  auto bench = make_bench(with_controller("board_pulse", "copier"));
  bench->run_for(host_ms(205));
  const auto stimulus = edges_of(bench->truth(), Wire::stimulus, 0);
  const auto response = edges_of(bench->truth(), Wire::response, 0);
  ASSERT_GE(stimulus.size(), 18u);
  ASSERT_EQ(stimulus.size(), response.size());
  for (std::size_t i = 0; i < stimulus.size(); ++i) {
    EXPECT_EQ(stimulus[i].level, response[i].level);
    const std::int64_t late = response[i].source_ps - stimulus[i].true_ps;
    EXPECT_GT(late, 0) << i;
    EXPECT_LT(late, 1'500'000) << i;  // the copier's loop is 9 cycles long
  }
}

}  // namespace
}  // namespace midstick::virtual_bench
