// The virtual bench joins two emulated chips, a serial line and true time, and does so the same way every time.
#include <thread>

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

TEST(VirtualBench, LongStreamAtFullRateLosesNothing) {
  auto bench = make_bench(board_only("board_echo"));
  bench->run_for(host_ms(5));
  std::string text;
  for (int i = 0; i < 2000; ++i) text += static_cast<char>('A' + i % 15);  // no command letters
  const HostTime before = bench->now();
  ASSERT_TRUE(send(*bench, text));
  EXPECT_EQ(receive(*bench, text.size()), text);
  EXPECT_EQ(bench->board_uart_overruns(), 0u);
  const std::int64_t took = (bench->now() - before).count;
  EXPECT_GE(took, 2000 * 20'000);            // 500 kbaud
  EXPECT_LE(took, 2000 * 20'000 + 100'000);  // back to back: the transmitter has a buffer
}

TEST(VirtualBench, BoardThatDoesNotReadInTimeKeepsThreeBytesAndLosesTheRest) {
  auto bench = make_bench(board_only("board_echo"));
  bench->run_for(host_ms(5));
  ASSERT_TRUE(send(*bench, "Z12345"));               // deaf for 1 ms, the digits take 100 us
  EXPECT_EQ(receive(*bench, 6, host_ms(5)), "125");  // the last one overwrote the others in the shift register
  EXPECT_EQ(bench->board_uart_overruns(), 2u);
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

TEST(VirtualBench, ReadEndsExactlyAtItsDeadline) {
  auto bench = make_bench(board_only("board_echo"));
  std::uint8_t buffer[8];
  const auto count = bench->read(buffer, HostTime{1'234'567});
  ASSERT_TRUE(count);
  EXPECT_EQ(*count, 0u);
  EXPECT_EQ(bench->now().count, 1'234'567);
}

TEST(VirtualBench, StimulusPulsesHaveTheCommandedWidthToTheTick) {
  auto bench = make_bench(board_only("board_pulse"));
  bench->run_for(host_ms(1000));
  const auto edges = edges_of(bench->truth(), Wire::stimulus, 0);
  ASSERT_GE(edges.size(), 98u);
  for (std::size_t i = 1; i < edges.size(); i += 2) EXPECT_EQ(edges[i].board_cycle - edges[i - 1].board_cycle, 24000u) << i;
  for (std::size_t i = 2; i < edges.size(); i += 2) EXPECT_EQ(edges[i].board_cycle - edges[i - 2].board_cycle, 320000u) << i;
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
    EXPECT_LT(late, 1'500'000) << i;  // the copier's loop takes under 20 cycles
  }
}

// The reactor's way from edge to edge: its two-cycle jump under way, 4 cycles into the interrupt, 3 for the vector's jump, 2 or 3 to
// look at the pin, and the port instruction. With stimulus late by more than an instruction the spread would show it.
TEST(VirtualBench, StimulusReachesABusyControllerWithinOneInstruction) {
  auto options = with_controller("board_pulse", "reactor");
  options.board_ppm = 137;  // sweeps the phase between the clocks
  auto bench = make_bench(options);
  bench->run_for(host_ms(2000));
  const auto stimulus = edges_of(bench->truth(), Wire::stimulus, 0);
  const auto response = edges_of(bench->truth(), Wire::response, 0);
  ASSERT_EQ(stimulus.size(), response.size());
  ASSERT_GE(stimulus.size(), 198u);
  for (bool level : {true, false}) {
    std::int64_t least = INT64_MAX, most = 0;
    for (std::size_t i = level ? 0 : 1; i < stimulus.size(); i += 2) {
      least = std::min(least, response[i].source_ps - stimulus[i].true_ps);
      most = std::max(most, response[i].source_ps - stimulus[i].true_ps);
    }
    EXPECT_GE(least, 9 * 62'500) << level;
    EXPECT_LE(most, 13 * 62'500) << level;
    EXPECT_LE(most - least, 2 * 62'500) << level;  // the length of the instruction under way, and no more
  }
}

// A board that never sleeps must not run ahead of its own edge while the controller sleeps: 4 cycles to wake, 4 into the interrupt, 3 for
// the vector's jump, 2 (rise) or 3 (fall) to look at the pin, and the controller's clock is within one cycle of the edge.
TEST(VirtualBench, StimulusWakesASleepingControllerOnTime) {
  auto bench = make_bench(with_controller("compare_pin", "sleeper"));
  bench->run_for(host_ms(100));
  const auto stimulus = edges_of(bench->truth(), Wire::stimulus, 0), response = edges_of(bench->truth(), Wire::response, 0);
  ASSERT_EQ(stimulus.size(), 8u);
  ASSERT_EQ(response.size(), 8u);
  for (std::size_t i = 0; i < 8; ++i) {
    EXPECT_GE(response[i].source_ps - stimulus[i].true_ps, 13 * 62'500) << i;
    EXPECT_LE(response[i].source_ps - stimulus[i].true_ps, 15 * 62'500) << i;
  }
}

/// Everything a run gives: the bytes and the record.
struct Outcome {
  std::string bytes;
  TruthRecord truth;
  friend bool operator==(const Outcome&, const Outcome&) = default;
};

Outcome noisy_run(std::uint64_t seed) {
  auto options = with_controller("board_pulse", "toggler");
  options.seed = seed;
  options.board_ppm = 4321.5;
  options.controller_ppm = -987.25;
  options.controller_phase_us = 12.3;
  options.serial.to_host = {0.01, 0.01, 0.01};
  options.serial.usb_slot_us = 1000;
  auto bench = make_bench(options);
  Outcome outcome;
  outcome.bytes = receive(*bench, 100'000, host_ms(300));
  outcome.truth = bench->truth();
  return outcome;
}

TEST(VirtualBench, SameOptionsGiveTheSameBytesAndEdges) {
  const Outcome once = noisy_run(7), again = noisy_run(7);
  EXPECT_GT(once.bytes.size(), 1000u);
  EXPECT_GT(once.truth.size(), 300u);
  EXPECT_TRUE(once == again);
  EXPECT_NE(once.bytes, noisy_run(8).bytes);
}

TEST(VirtualBench, SeveralBenchesRunAtOnceWithoutTouchingEachOther) {
  const Outcome alone[2] = {noisy_run(1), noisy_run(2)};
  Outcome together[2];
  std::thread other([&] { together[1] = noisy_run(2); });
  together[0] = noisy_run(1);
  other.join();
  EXPECT_TRUE(alone[0] == together[0]);
  EXPECT_TRUE(alone[1] == together[1]);
}

TEST(VirtualBench, MissingOrForeignImageIsABadFile) {
  auto options = board_only("no_such_image");
  auto missing = VirtualBench::make(options);
  ASSERT_FALSE(missing);
  EXPECT_EQ(missing.error().kind, ErrorKind::bad_file);
  options.board_image = "/proc/self/exe";  // an ELF file, but not for an AVR
  auto foreign = VirtualBench::make(options);
  ASSERT_FALSE(foreign);
  EXPECT_NE(foreign.error().message.find("not for an AVR"), std::string::npos) << foreign.error().message;
}

TEST(VirtualBench, UnknownChipAndMissingPinAreNamed) {
  auto options = with_controller("board_echo", "toggler");
  options.controller->chip = "atmega9999";
  auto unknown = VirtualBench::make(options);
  ASSERT_FALSE(unknown);
  EXPECT_NE(unknown.error().message.find("atmega9999"), std::string::npos);
  options = with_controller("board_echo", "toggler");
  options.controller->outputs[0].port = 'K';
  auto pinless = VirtualBench::make(options);
  ASSERT_FALSE(pinless);
  EXPECT_NE(pinless.error().message.find("no pin PK1"), std::string::npos) << pinless.error().message;
}

}  // namespace
}  // namespace midstick::virtual_bench
