#include <gtest/gtest.h>

#include "protocol/command_sequence.hpp"

namespace midstick::protocol {
namespace {

TEST(CommandGate, TakesOnlyTheNextInOrder) {
  CommandGate gate;
  EXPECT_EQ(gate.admit(2), Admit::ahead);
  EXPECT_EQ(gate.admit(1), Admit::take);
  EXPECT_EQ(gate.admit(1), Admit::old);
  EXPECT_EQ(gate.admit(2), Admit::take);
  EXPECT_EQ(gate.accepted(), 2);
}

TEST(CommandGate, NumbersRunFrom255To1) {
  CommandGate gate;
  std::uint8_t seq = 0;
  for (int i = 0; i < 1000; ++i) {
    seq = next_seq(seq);
    ASSERT_NE(seq, 0);
    ASSERT_EQ(gate.admit(seq), Admit::take) << i;
    ASSERT_EQ(gate.admit(seq), Admit::old) << i;
  }
}

TEST(CommandGate, AheadIsAtMostAWindow) {
  CommandGate gate;
  gate.admit(1);
  EXPECT_EQ(gate.admit(1 + kWindow), Admit::ahead);
  EXPECT_EQ(gate.admit(2 + kWindow), Admit::old);
}

TEST(CommandGate, SeqZeroIsOutsideTheSequence) {
  CommandGate gate;
  EXPECT_EQ(gate.admit(0), Admit::unordered);
  EXPECT_EQ(gate.accepted(), 0);
}

TEST(StepsAhead, SkipsZeroOverTheWrap) {
  EXPECT_EQ(steps_ahead(0, 1), 1);
  EXPECT_EQ(steps_ahead(255, 1), 1);
  EXPECT_EQ(steps_ahead(254, 2), 3);
  EXPECT_EQ(steps_ahead(7, 7), 0);
}

}  // namespace
}  // namespace midstick::protocol
