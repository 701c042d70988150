// The board makes itself safe: stimulus low and relay off, by itself and in time, whatever the host does.
#include <algorithm>

#include "tests/board/load.hpp"

namespace midstick::board_test {
namespace {

using wire::EventCode;
using wire::Fault;

/// A run with power on, S1 stuck high, S2 pulsing for `ms`; by then both have begun.
void begin_driving(BoardHost& host, double ms, std::uint16_t refresh_ms) {
  host.start(0xFF, refresh_ms);
  host.align();
  ASSERT_EQ(host.refusal_of(wire::Power{{0}, 1, 1}), 0);
  const std::uint32_t first = host.tick_now() + 10 * kMs;
  host.plan(merged({{{first, 0, true}}, pulses(1, first, 160'000, std::vector<std::uint32_t>(static_cast<std::size_t>(ms / 10), 24'000))},
                   first));
  host.stream_ms(40);
  ASSERT_TRUE(host.relay_on());
  ASSERT_TRUE(host.truth(vb::Wire::stimulus, 0).back().level);
}

/// Last true change of stimulus or relay, ns of true time; and that all of it is low.
std::int64_t last_change_ns(const BoardHost& host) {
  std::int64_t last = 0;
  for (const vb::TrueEdge& edge : host.bench().truth())
    if (edge.wire == vb::Wire::stimulus || edge.wire == vb::Wire::relay) last = std::max(last, edge.true_ps / 1000);
  for (std::uint8_t line = 0; line < 6; ++line) {
    const auto edges = host.truth(vb::Wire::stimulus, line);
    EXPECT_TRUE(edges.empty() || !edges.back().level) << "line " << int{line};
  }
  EXPECT_FALSE(host.relay_on());
  return last;
}

TEST(Safety, NothingIsDrivenBeforeTheHostAsks) {
  BoardHost host;
  host.run_ms(500);
  for (const vb::TrueEdge& edge : host.bench().truth()) EXPECT_NE(edge.wire, vb::Wire::stimulus) << edge.board_cycle;
  for (const vb::TrueEdge& edge : host.bench().truth()) EXPECT_NE(edge.wire, vb::Wire::relay) << edge.board_cycle;
  ASSERT_EQ(host.hellos.size(), 1u) << "one hello after boot";
}

TEST(Safety, SilentHostCutsPulsesAndPowerWithinTheRefreshTime) {
  BoardHost host;
  begin_driving(host, 2000, 200);
  const std::int64_t silent_from = host.bench().now().count;
  host.run_ms(500);  // not a byte sent
  const std::int64_t last = last_change_ns(host);
  EXPECT_LE(last - silent_from, 202'000'000);
  EXPECT_GE(last - silent_from, 90'000'000);  // and not before it: the last refresh was up to 100 ms old
  EXPECT_EQ(host.fault(), static_cast<int>(Fault::host_silent));
  EXPECT_TRUE(host.saw(EventCode::fault, static_cast<int>(Fault::host_silent)));
}

TEST(Safety, FaultStaysLatchedUntilTheNextStart) {
  BoardHost host;
  begin_driving(host, 2000, 100);
  host.run_ms(300);
  EXPECT_EQ(host.refusal_of(wire::Power{{0}, 1, 1}), static_cast<int>(wire::Refusal::faulted));
  host.run_ms(200);
  last_change_ns(host);
  host.start();
  EXPECT_EQ(host.refusal_of(wire::Power{{0}, 1, 1}), 0);
  host.run_ms(3);
  EXPECT_TRUE(host.relay_on());
}

TEST(Safety, OpenStopLoopCutsWithinFiveMilliseconds) {
  vb::VirtualBenchOptions options;
  options.stop_loop = {{HostTime{300'000'000}, false}};
  BoardHost host(options);
  begin_driving(host, 2000, 1000);
  host.stream_ms(400);
  const std::int64_t last = last_change_ns(host);
  EXPECT_GE(last, 300'000'000);
  EXPECT_LE(last, 305'000'000);
  EXPECT_EQ(host.fault(), static_cast<int>(Fault::stop_loop_open));
  EXPECT_TRUE(host.saw(EventCode::stop_loop_open));
  EXPECT_EQ(host.statuses.back().outputs & 4, 4);
}

TEST(Safety, BouncingStopLoopUnderAMillisecondIsNoStop) {
  vb::VirtualBenchOptions options;
  options.stop_loop = {{HostTime{300'000'000}, false}, {HostTime{300'900'000}, true}};
  BoardHost host(options);
  begin_driving(host, 2000, 1000);
  host.stream_ms(400);
  EXPECT_EQ(host.fault(), 0);
  EXPECT_TRUE(host.relay_on());
}

TEST(Safety, StartIsRefusedWhileTheStopLoopIsOpen) {
  vb::VirtualBenchOptions options;
  options.stop_loop = {{HostTime{10'000'000}, false}, {HostTime{500'000'000}, true}};
  BoardHost host(options);
  host.run_ms(100);
  host.hello();
  EXPECT_EQ(host.refusal_of(wire::Start{1000, 0xFF}), static_cast<int>(wire::Refusal::faulted));
  host.run_ms(150);
  EXPECT_EQ(host.fault(), static_cast<int>(Fault::stop_loop_open));
  host.run_ms(400);  // closed again, and long enough
  EXPECT_EQ(host.refusal_of(wire::Start{1000, 0xFF}), 0);
}

TEST(Safety, BoardResetDropsEverythingAtOnceAndCountsTheBoot) {
  vb::VirtualBenchOptions options;
  options.board_resets = {HostTime{300'000'000}};
  BoardHost host(options);
  begin_driving(host, 2000, 1000);
  const std::uint32_t boot = host.hellos.back().boot_id;
  host.stream_ms(400);
  const std::int64_t last = last_change_ns(host);
  EXPECT_GE(last, 300'000'000);
  EXPECT_LE(last, 300'010'000);
  ASSERT_GT(host.hellos.size(), 1u) << "hello after boot";
  EXPECT_EQ(host.hellos.back().boot_id, boot + 1);
  EXPECT_EQ(host.hellos.back().reset_cause & 2, 2);
}

// Nothing in the firmware hangs on request, so it is starved: edges at 400 kHz keep the main loop from ever running.
TEST(Safety, WatchdogRestartsAStarvedBoardAndTheFaultIsReported) {
  BoardHost host;
  begin_driving(host, 2000, 2000);
  std::vector<vb::InjectedEdge> storm;
  const std::int64_t from = host.bench().now().count * 1000 + 1'000'000'000;
  for (std::int64_t i = 0; i < 60'000; ++i) storm.push_back({from + i * 2'500'000, 2, i % 2 == 0});
  ASSERT_TRUE(host.bench().inject(storm));
  host.run_ms(300);
  EXPECT_GE(host.bench().board_watchdog_resets(), 1u);
  EXPECT_LE(last_change_ns(host) - from / 1000, 70'000'000);
  ASSERT_GT(host.hellos.size(), 1u);
  EXPECT_EQ(host.hellos.back().reset_cause & 8, 8);
  host.run_ms(300);
  EXPECT_EQ(host.fault(), static_cast<int>(Fault::watchdog));
}

TEST(Safety, WatchdogStaysQuietThroughAnIdleMinute) {
  BoardHost host;
  host.run_ms(60'000);
  EXPECT_EQ(host.bench().board_resets(), 0u);
}

TEST(Safety, StopEndsARunAtOnce) {
  BoardHost host;
  begin_driving(host, 2000, 1000);
  const std::int64_t asked = host.bench().now().count;
  EXPECT_EQ(host.refusal_of(wire::Stop{}), 0);
  host.run_ms(100);
  EXPECT_LE(last_change_ns(host) - asked, 5'000'000);
  EXPECT_TRUE(host.saw(EventCode::stopped));
  EXPECT_TRUE(host.saw(EventCode::power_off));
}

// A frame of the host was lost before it: stop must not wait for the repeat.
TEST(Safety, StopThatArrivesAheadOfALostCommandIsCarriedOut) {
  BoardHost host;
  begin_driving(host, 2000, 1000);
  const std::uint8_t accepted = host.acks.back().accepted;
  host.transmit(wire::next_seq(wire::next_seq(accepted)), wire::Stop{});
  host.run_ms(20);
  EXPECT_EQ(host.acks.back().accepted, accepted);
  last_change_ns(host);
}

}  // namespace
}  // namespace midstick::board_test
