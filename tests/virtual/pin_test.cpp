// Pins and interrupt flags follow the data sheet where the emulator alone does not. What the board does is in images/*.c.
#include "tests/virtual/support.hpp"

namespace midstick::virtual_bench {
namespace {

class ComparePin : public testing::Test {
 protected:
  void SetUp() override {
    bench_ = make_bench(board_only("compare_pin"));
    answers_ = receive(*bench_, 3, host_ms(500));
    edges_ = edges_of(bench_->truth(), Wire::stimulus, 0);
  }
  std::unique_ptr<VirtualBench> bench_;
  std::string answers_;
  TruthRecord edges_;
};

TEST_F(ComparePin, PortWritesAndOverflowsLeaveAConnectedPinAlone) {
  ASSERT_GE(edges_.size(), 3u);
  EXPECT_TRUE(edges_[0].level);
  EXPECT_EQ(edges_[1].board_cycle - edges_[0].board_cycle, 999u) << "from match 20000 to match 20999";
  EXPECT_GT(edges_[2].board_cycle - edges_[1].board_cycle, 60'000u) << "no edge from port writes or overflows in between";
}

TEST_F(ComparePin, DisconnectingShowsThePortWhichTogglingDoesNotChange) {
  ASSERT_EQ(answers_.size(), 3u);
  EXPECT_EQ(answers_[0], 0x20) << "the PIN register shows the toggled pin, the port stays low";
  EXPECT_EQ(answers_[1], 0x00);
  EXPECT_TRUE(edges_[2].level);
  EXPECT_FALSE(edges_[3].level);
}

TEST_F(ComparePin, ReconnectingShowsTheLatchAndAForcedMatchClearsIt) {
  ASSERT_GE(edges_.size(), 6u);
  EXPECT_TRUE(edges_[4].level);
  EXPECT_FALSE(edges_[5].level);
  EXPECT_NEAR(static_cast<double>(edges_[5].true_ps - edges_[4].true_ps), 1e9, 20e6);
}

TEST_F(ComparePin, AnInputIsLowThroughThePullDown) {
  ASSERT_EQ(edges_.size(), 8u);
  EXPECT_TRUE(edges_[6].level);
  EXPECT_FALSE(edges_[7].level);
  EXPECT_NEAR(static_cast<double>(edges_[7].true_ps - edges_[6].true_ps), 1e9, 20e6);
}

TEST(PulseWidthMode, TakesANewCompareValueFromTheNextPulseOn) {
  auto bench = make_bench(with_controller("board_pulse", "pulse_width"));
  bench->run_for(host_ms(50));
  const auto edges = edges_of(bench->truth(), Wire::response, 0);
  ASSERT_GE(edges.size(), 8u);
  std::vector<std::uint64_t> widths;
  for (std::size_t i = 0; i < 8; i += 2) {
    ASSERT_TRUE(edges[i].level);
    widths.push_back(edges[i + 1].controller_cycle - edges[i].controller_cycle);
  }
  EXPECT_EQ(widths, (std::vector<std::uint64_t>{6000, 6000, 1000, 8000}));
}

TEST(Sleep, IsNotBegunOverAnInterruptThatComesJustBeforeIt) {
  auto bench = make_bench(board_only("asleep"));
  EXPECT_EQ(receive(*bench, 1, host_ms(200)), "A");
}

TEST(InterruptFlags, StayUpUntilClearedAndCountWhenTheirInterruptIsEnabled) {
  auto bench = make_bench(board_only("flags"));
  const InjectedEdge pulse[] = {{10'000'000'000, 2, true}, {11'000'000'000, 2, false}};
  ASSERT_TRUE(bench->inject(pulse));
  EXPECT_EQ(receive(*bench, 4), "Fct.");
}

}  // namespace
}  // namespace midstick::virtual_bench
