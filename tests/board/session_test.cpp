// The board's side of the wire: order of commands, limits, schema text, clock stamps, status, controller power and reset.
#include <algorithm>
#include <cstdlib>

#include "protocol/schema_text.hpp"
#include "tests/board/load.hpp"

namespace midstick::board_test {
namespace {

using wire::EventCode;
using wire::Refusal;

int reason(Refusal refusal) { return static_cast<int>(refusal); }

TEST(Session, HelloStatesIdentityAndLimits) {
  BoardHost host;
  host.run_ms(60);
  const wire::Hello hello = host.hello();
  EXPECT_EQ(hello.protocol, MIDSTICK_PROTOCOL_VERSION);
  EXPECT_EQ(hello.schema_hash, wire::kSchemaHash);
  EXPECT_EQ(hello.boot_id, 1u) << "an unwritten EEPROM counts from 1";
  EXPECT_EQ(hello.tick_rate, 16'000'000u);
  EXPECT_EQ(hello.stimulus_lines, 6);
  EXPECT_EQ(hello.capture_lines, 2);
  EXPECT_EQ(hello.pin_change_lines, 6);
  EXPECT_EQ(hello.shortest_level, board::kShortestLevel);
  EXPECT_LE(hello.pin_change_half, 8) << "half a microsecond";
  EXPECT_GT(hello.pin_change_base, 10) << "entry, jump and load alone take that long";
  EXPECT_EQ(hello.reset_cause & 1, 1);
}

TEST(Session, SchemaTextIsServedInPiecesAndIsTheSchema) {
  BoardHost host;
  host.run_ms(60);
  for (std::size_t before = 1; host.schema_text.size() != before && host.schema_text.size() < wire::kSchemaTextSize;) {
    before = host.schema_text.size();
    host.transmit(0, wire::SchemaRead{static_cast<std::uint16_t>(before)});
    host.run_ms(10);
  }
  EXPECT_EQ(host.schema_text, MIDSTICK_SCHEMA_TEXT);
}

TEST(Session, ClockReplyBracketsTheTruth) {
  BoardHost host;
  host.start();
  host.align();
  for (int i = 0; i < 20; ++i) {
    host.clock_replies.clear();
    const std::uint64_t sent_cycle = host.bench().board_cycle();
    host.transmit(0, wire::ClockQuery{static_cast<std::uint16_t>(i)});
    host.run_ms(1.7 + 0.113 * i);
    ASSERT_EQ(host.clock_replies.size(), 1u);
    const wire::ClockReply& reply = host.clock_replies.back();
    EXPECT_EQ(reply.token, i);
    // 8 bytes of 320 ticks, and the way into the receive handler.
    const auto on_the_wire = static_cast<std::int32_t>(reply.received.count - host.tick_of(sent_cycle));
    EXPECT_GE(on_the_wire, 8 * 320);
    EXPECT_LE(on_the_wire, 8 * 320 + 200);
    EXPECT_GT(reply.sent - reply.received, 0);
    EXPECT_LT(reply.sent - reply.received, static_cast<std::int32_t>(kMs));
  }
}

TEST(Session, CommandsAreTakenInOrderOnly) {
  BoardHost host;
  host.start();
  const std::uint8_t accepted = host.acks.back().accepted;
  const std::uint8_t next = wire::next_seq(accepted);
  host.transmit(wire::next_seq(next), wire::Power{{0}, 1, 1});  // one is missing before it
  host.run_ms(5);
  EXPECT_EQ(host.acks.back().accepted, accepted);
  EXPECT_FALSE(host.relay_on());
  host.transmit(next, wire::Refresh{});
  host.run_ms(5);
  EXPECT_EQ(host.acks.back().accepted, next);
  host.transmit(wire::next_seq(next), wire::Power{{0}, 1, 1});
  host.run_ms(5);
  EXPECT_TRUE(host.relay_on());
  host.transmit(wire::next_seq(next), wire::Power{{0}, 1, 0});  // an old number is acknowledged and not carried out again
  host.run_ms(5);
  EXPECT_EQ(host.acks.back().accepted, wire::next_seq(next));
  EXPECT_TRUE(host.relay_on());
}

TEST(Session, EveryCommandIsAcknowledgedAndRefusalsStay) {
  BoardHost host;
  host.run_ms(60);
  host.hello();
  EXPECT_EQ(host.refusal_of(wire::Power{{0}, 1, 1}), reason(Refusal::not_started));
  const std::uint8_t first = host.acks.back().refused_seq;
  EXPECT_EQ(host.refusal_of(wire::Refresh{}), 0);
  EXPECT_EQ(host.acks.back().refused, reason(Refusal::not_started)) << "kept until hello or start";
  EXPECT_EQ(host.acks.back().refused_seq, first);
  EXPECT_EQ(host.refusal_of(wire::Start{1000, 0xFF}), 0);
  EXPECT_EQ(host.acks.back().refused, 0);
}

TEST(Session, RefreshTimeBeyondTheMaximumIsRefused) {
  BoardHost host;
  host.run_ms(60);
  const std::uint16_t longest = host.hello().refresh_max;
  EXPECT_EQ(host.refusal_of(wire::Start{static_cast<std::uint16_t>(longest + 1), 0}), reason(Refusal::bad_value));
  EXPECT_EQ(host.refusal_of(wire::Start{longest, 0}), 0);
}

TEST(Session, UnknownMessageIsRefusedAndDamagedFramesAreCounted) {
  BoardHost host;
  host.start();
  wire::FixedOutput<64> out;
  wire::FrameEncoder<wire::FixedOutput<64>> frame(out);
  frame.begin(99, wire::next_seq(host.acks.back().accepted));
  ASSERT_TRUE(frame.end());
  std::vector<std::uint8_t> bytes(out.data(), out.data() + out.size());
  bytes[2] ^= 0x55;  // the sequence number: fails its CRC
  ASSERT_TRUE(host.bench().write(bytes));
  host.run_ms(5);
  const std::size_t acks = host.acks.size();
  bytes[2] ^= 0x55;
  ASSERT_TRUE(host.bench().write(bytes));
  host.run_ms(150);
  ASSERT_EQ(host.acks.size(), acks + 1);
  EXPECT_EQ(host.acks.back().refused, reason(Refusal::bad_value));
  EXPECT_EQ(host.statuses.back().bad_frames, 1);
}

TEST(Session, StatusComesEveryHundredMillisecondsWhileStarted) {
  BoardHost host;
  host.run_ms(500);
  EXPECT_TRUE(host.statuses.empty());
  host.start();
  host.stream_ms(1000);
  EXPECT_GE(host.statuses.size(), 9u);
  EXPECT_LE(host.statuses.size(), 12u);
  for (std::size_t i = 1; i < host.statuses.size(); ++i)
    EXPECT_NEAR(host.statuses[i].now - host.statuses[i - 1].now, 100.0 * kMs, 2.0 * kMs);
}

TEST(Session, SupplyIsMeasuredBehindTheRelay) {
  BoardHost host;
  host.bench().set_supply_mv(7400);
  host.start();
  host.stream_ms(300);
  EXPECT_LT(host.statuses.back().supply, 100);
  EXPECT_EQ(host.refusal_of(wire::Power{{0}, 1, 1}), 0);
  host.stream_ms(500);
  EXPECT_NEAR(host.statuses.back().supply, 7400, 40);  // a step is 20 mV
}

TEST(Session, PowerAndResetHappenAtTheirTickWithinARound) {
  BoardHost host;
  host.start();
  host.align();
  const std::uint32_t on = host.tick_now() + 50 * kMs, pull = on + 20 * kMs;
  EXPECT_EQ(host.refusal_of(wire::Power{{on}, 0, 1}), 0);
  EXPECT_EQ(host.refusal_of(wire::Power{{on + kMs}, 0, 0}), reason(Refusal::busy));
  EXPECT_EQ(host.refusal_of(wire::Refresh{}), 0);
  EXPECT_EQ(host.refusal_of(wire::ControllerReset{{pull}, 0, 30}), 0);
  host.stream_ms(200);
  const auto relay = host.truth(vb::Wire::relay);
  const auto reset = host.truth(vb::Wire::controller_reset);
  ASSERT_EQ(relay.size(), 1u);
  ASSERT_EQ(reset.size(), 2u);
  EXPECT_FALSE(reset[0].level);
  const auto late = [&](const vb::TrueEdge& edge, std::uint32_t due) {
    return static_cast<std::int32_t>(host.tick_of(edge.board_cycle) - due);
  };
  EXPECT_GE(late(relay[0], on), 0);
  EXPECT_LE(late(relay[0], on), static_cast<std::int32_t>(kMs + kMs / 4));
  EXPECT_GE(late(reset[0], pull), 0);
  EXPECT_LE(late(reset[0], pull), static_cast<std::int32_t>(kMs + kMs / 4));
  EXPECT_NEAR(static_cast<double>(reset[1].board_cycle - reset[0].board_cycle), 30.0 * kMs, 1.25 * kMs);
  for (EventCode kind : {EventCode::power_on, EventCode::reset_asserted, EventCode::reset_released}) EXPECT_TRUE(host.saw(kind));
  for (const wire::Event& event : host.events) {
    if (event.kind != static_cast<std::uint8_t>(EventCode::power_on)) continue;
    EXPECT_LE(std::abs(late(relay[0], event.at.count)), 800) << "the event says when it was really done";
  }
}

}  // namespace
}  // namespace midstick::board_test
