// The way between host and board: faults at their rates, delays, a host that stands still, a device that goes away.
#include <cmath>
#include <map>

#include "fixtures/virtual/faults.hpp"
#include "tests/virtual/support.hpp"

namespace midstick::virtual_bench {
namespace {

constexpr Uint128 kByte = static_cast<Uint128>(20'000'000) << 32;  // 20 us

/// Send `count` numbered bytes over a wire with these faults.
std::vector<TimedByte> over_wire(const SerialFaults& faults, std::uint64_t seed, int count, LineCounts* counts = nullptr) {
  Wireway wire(faults, seed);
  std::vector<TimedByte> out;
  for (int i = 0; i < count; ++i) wire.send(static_cast<std::uint8_t>(i), {}, kByte, out);
  if (counts) *counts = wire.counts();
  return out;
}

/// Five standard deviations of a binomial count.
double five_sigma(double n, double p) { return 5 * std::sqrt(n * p * (1 - p)); }

TEST(SerialFaults, StrikeAtTheirRatesForEverySeed) {
  constexpr int kBytes = 20'000;
  for (std::uint64_t seed = 1; seed <= 20; ++seed) {
    LineCounts counts;
    const auto out = over_wire({0.02, 0.05, 0.01}, seed, kBytes, &counts);
    SCOPED_TRACE(seed);
    EXPECT_NEAR(static_cast<double>(counts.dropped), kBytes * 0.05, five_sigma(kBytes, 0.05));
    EXPECT_NEAR(static_cast<double>(counts.flipped), kBytes * 0.019, five_sigma(kBytes, 0.019));
    EXPECT_NEAR(static_cast<double>(counts.doubled), kBytes * 0.0095, five_sigma(kBytes, 0.0095));
    EXPECT_EQ(out.size(), kBytes - counts.dropped + counts.doubled);
  }
}

TEST(SerialFaults, AFlipInvertsExactlyOneBitAndAnyOfThem) {
  std::map<int, int> bits;
  const auto out = over_wire({1, 0, 0}, 3, 8000);
  for (std::size_t i = 0; i < out.size(); ++i) {
    const int changed = out[i].byte ^ static_cast<std::uint8_t>(i);
    ASSERT_EQ(std::popcount(static_cast<unsigned>(changed)), 1) << i;
    ++bits[changed];
  }
  ASSERT_EQ(bits.size(), 8u);
  for (const auto& [bit, count] : bits) EXPECT_NEAR(count, 1000, five_sigma(8000, 0.125)) << bit;
}

TEST(SerialFaults, BytesKeepTheirPaceWhateverHappens) {
  const auto out = over_wire({0, 0.5, 0.5}, 11, 1000);
  for (std::size_t i = 1; i < out.size(); ++i) EXPECT_GE(out[i].at.units - out[i - 1].at.units, kByte) << i;
}

TEST(SerialFaults, NoFaultsMeansEveryByteOnTime) {
  const auto out = over_wire({}, 5, 300);
  ASSERT_EQ(out.size(), 300u);
  for (std::size_t i = 0; i < out.size(); ++i) {
    EXPECT_EQ(out[i].byte, static_cast<std::uint8_t>(i));
    EXPECT_EQ(out[i].at.ps(), static_cast<std::int64_t>(i + 1) * 20'000'000);
  }
}

TEST(SerialFaults, ReachTheBoardAndTheHostAsCounted) {
  auto options = board_only("board_echo");
  options.serial.to_board.drop = 0.1;
  options.serial.to_host.twice = 0.1;
  auto bench = make_bench(options);
  bench->run_for(host_ms(5));
  ASSERT_TRUE(send(*bench, std::string(1000, 'x')));
  const std::string got = receive(*bench, 5000, host_ms(100));
  EXPECT_GT(bench->to_board_counts().dropped, 50u);
  EXPECT_GT(bench->to_host_counts().doubled, 50u);
  EXPECT_EQ(got.size(), 1000 - bench->to_board_counts().dropped + bench->to_host_counts().doubled);
}

TEST(ToHost, WaitsForThePacketTimerTheSlotAndTheLatency) {
  SerialOptions options;
  options.latency_timer_us = 16'000;
  options.usb_slot_us = 1000;
  options.latency_us = 300;
  ToHost line(options, 1);
  line.send('a', instant_ps(100'000'000), kByte);  // complete at 120 us
  ASSERT_TRUE(line.next());
  EXPECT_EQ(line.next()->ps(), 17'300'000'000);  // 120 us + 16 ms, next slot, + 300 us
  std::uint8_t buffer[100];
  EXPECT_EQ(line.read(buffer, instant_ps(17'299'999'999)), 0u);
  EXPECT_EQ(line.read(buffer, instant_ps(17'300'000'000)), 1u);
}

TEST(ToHost, SendsAFullPacketWithoutWaiting) {
  SerialOptions options;
  options.latency_timer_us = 16'000;
  ToHost line(options, 1);
  for (int i = 0; i < 62; ++i) line.send('a', {}, kByte);
  EXPECT_EQ(line.next()->ps(), 62 * 20'000'000);
}

TEST(ToHost, LosesWhatTheHostsBufferCannotHold) {
  SerialOptions options;
  options.host_buffer_bytes = 100;
  ToHost line(options, 1);
  for (int i = 0; i < 150; ++i) line.send(static_cast<std::uint8_t>(i), {}, kByte);
  std::uint8_t buffer[200];
  EXPECT_EQ(line.read(buffer, instant_ps(1'000'000'000'000)), 100u);
  EXPECT_EQ(buffer[99], 99);
  EXPECT_EQ(line.counts().overflowed, 50u);
}

TEST(HostPause, NothingIsReadUntilItIsOver) {
  auto options = board_only("board_echo");
  options.pauses = {{{20'000'000}, host_ms(3000)}};
  auto bench = make_bench(options);
  bench->run_until({19'990'000});
  ASSERT_TRUE(send(*bench, "xyz"));  // the echo falls into the pause
  std::uint8_t buffer[8];
  const auto count = bench->read(buffer, HostTime{100'000'000});
  ASSERT_TRUE(count);
  EXPECT_EQ(*count, 3u);
  EXPECT_EQ(bench->now().count, 3'020'000'000);
}

TEST(Unplug, KillsThePortUntilItIsOpenedAgain) {
  auto options = board_only("board_echo");
  options.unplugs = {{{30'000'000}, HostTime{50'000'000}}};
  auto bench = make_bench(options);
  bench->run_for(host_ms(5));
  ASSERT_TRUE(send(*bench, "P"));
  std::uint8_t buffer[8];
  const auto gone = bench->read(buffer, HostTime{100'000'000});
  ASSERT_FALSE(gone);
  EXPECT_EQ(gone.error().kind, ErrorKind::bench_missing);
  EXPECT_EQ(bench->now().count, 30'000'000) << "noticed at once";
  EXPECT_FALSE(send(*bench, "x")) << "dead for good, as a real port";
  EXPECT_FALSE(bench->reopen(HostTime{40'000'000}));
  EXPECT_EQ(bench->now().count, 40'000'000);
  ASSERT_TRUE(bench->reopen(HostTime{100'000'000}));
  EXPECT_EQ(bench->now().count, 50'000'000);
  ASSERT_TRUE(send(*bench, "x"));
  EXPECT_EQ(receive(*bench, 1), "x");
  EXPECT_EQ(bench->board_resets(), 0u) << "the board has its own supply";
}

TEST(Unplug, MayTakeTheBoardsPowerWithIt) {
  auto options = board_only("board_echo");
  options.unplugs = {{{30'000'000}, HostTime{50'000'000}, true}};
  auto bench = make_bench(options);
  bench->run_for(host_ms(5));
  ASSERT_TRUE(send(*bench, "P"));
  bench->run_until({29'000'000});
  EXPECT_TRUE(edges_of(bench->truth(), Wire::relay).back().level);
  bench->run_until({31'000'000});
  EXPECT_FALSE(edges_of(bench->truth(), Wire::relay).back().level) << "no power, no relay";
  ASSERT_TRUE(bench->reopen(HostTime{100'000'000}));
  bench->run_for(host_ms(5));
  ASSERT_TRUE(send(*bench, "m"));
  EXPECT_EQ(receive(*bench, 1), std::string(1, 0x01));
}

TEST(Unplug, BytesUnderWayAreLost) {
  auto options = board_only("board_echo");
  options.unplugs = {{{30'000'000}, HostTime{30'500'000}}};
  auto bench = make_bench(options);
  bench->run_until({29'900'000});
  ASSERT_TRUE(send(*bench, "abcdefghijklmnoP"));  // takes 320 us, 100 are left
  std::uint8_t buffer[1];
  std::size_t before = 0;
  while (const auto count = bench->read(buffer, HostTime{29'999'999})) {
    if (*count == 0) break;
    before += *count;
  }
  EXPECT_LT(before, 5u);
  ASSERT_TRUE(bench->reopen(HostTime{100'000'000}) || bench->now().count == 30'000'000);
  bench->run_until({30'000'000});
  ASSERT_TRUE(bench->reopen(HostTime{100'000'000}));
  EXPECT_EQ(receive(*bench, 10, host_ms(10)), "");
  EXPECT_TRUE(edges_of(bench->truth(), Wire::relay).empty()) << "the order to switch on never arrived";
}

TEST(FaultText, IsReadIntoOptions) {
  VirtualBenchOptions options;
  for (const char* text : {"flip=0.001", "drop-to-host=0.5", "latency-us=250", "usb-slot-us=1000", "latency-timer-us=16000", "unplug=9000",
                           "unplug=9500:9600.5", "board-reset=10", "pause=100:3000", "stop-loop=20:open", "stop-loop=30:closed"})
    EXPECT_TRUE(add_fault(text, options)) << text;
  EXPECT_EQ(options.serial.to_board.flip, 0.001);
  EXPECT_EQ(options.serial.to_host.flip, 0.001);
  EXPECT_EQ(options.serial.to_board.drop, 0);
  EXPECT_EQ(options.serial.to_host.drop, 0.5);
  EXPECT_EQ(options.serial.latency_us, 250);
  ASSERT_EQ(options.unplugs.size(), 2u);
  EXPECT_FALSE(options.unplugs[0].back);
  EXPECT_EQ(options.unplugs[1].back, HostTime{9'600'500'000});
  EXPECT_EQ(options.pauses.at(0).length.count, 3'000'000'000);
  EXPECT_EQ(options.board_resets.at(0).count, 10'000'000);
  ASSERT_EQ(options.stop_loop.size(), 2u);
  EXPECT_FALSE(options.stop_loop[0].closed);
  EXPECT_TRUE(options.stop_loop[1].closed);
  EXPECT_FALSE(check_options(options)) << "unplugged for good, and then again";
  options.unplugs.pop_back();
  EXPECT_TRUE(check_options(options));
}

TEST(FaultText, NonsenseIsRefusedWithWhatWasExpected) {
  VirtualBenchOptions options;
  for (const char* text :
       {"", "flip", "flip=", "flip=x", "flip=-1", "unplug=1:", "pause=5", "board-reset=1:2", "stop-loop=1", "wobble=1", "=1"}) {
    const auto added = add_fault(text, options);
    ASSERT_FALSE(added) << text;
    EXPECT_EQ(added.error().kind, ErrorKind::usage);
  }
  options.serial.to_board.flip = 1.5;
  EXPECT_FALSE(check_options(options));
  EXPECT_FALSE(VirtualBench::make(options));
}

}  // namespace
}  // namespace midstick::virtual_bench
