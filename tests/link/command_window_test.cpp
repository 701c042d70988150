#include "daemon/link/command_window.hpp"

#include <gtest/gtest.h>

namespace midstick::link {
namespace {

using Verdict = CommandWindow::Verdict;

struct Window : testing::Test {
  CommandWindow window{host_ms(50), 3, 20'000};
  void add(int count) {
    for (int i = 0; i < count; ++i) window.add({window.next_seq(), std::vector<std::uint8_t>(10), {}}, {0});
  }
};

TEST_F(Window, AckOfTheLastClearsAllBeforeIt) {
  add(3);
  EXPECT_EQ(window.on_ack(3, true, {1}), Verdict::progress);
  EXPECT_TRUE(window.empty());
}

TEST_F(Window, HoldsAtMostEight) {
  add(8);
  EXPECT_FALSE(window.has_room());
}

TEST_F(Window, TimerAddsTheWireTimeOfWhatIsInFlight) {
  add(2);
  EXPECT_EQ(window.deadline(), HostTime{50'000'000 + 2 * 10 * 20'000});
}

TEST_F(Window, SendsAgainAtTheDeadlineAndGivesUpAfterItsTries) {
  add(1);
  EXPECT_EQ(window.on_deadline({1}), Verdict::nothing);
  EXPECT_EQ(window.on_deadline(window.deadline()), Verdict::resend);
  EXPECT_EQ(window.on_deadline(window.deadline()), Verdict::resend);
  EXPECT_EQ(window.on_deadline(window.deadline()), Verdict::give_up);
}

TEST_F(Window, ProgressStartsTheTriesAfresh) {
  add(2);
  EXPECT_EQ(window.on_deadline(window.deadline()), Verdict::resend);
  EXPECT_EQ(window.on_deadline(window.deadline()), Verdict::resend);
  EXPECT_EQ(window.on_ack(1, true, window.deadline()), Verdict::progress);
  EXPECT_EQ(window.on_deadline(window.deadline()), Verdict::resend);
}

TEST_F(Window, HostAsleepForMinutesSendsAgainRatherThanGivingUp) {
  add(1);
  EXPECT_EQ(window.on_deadline({300'000'000'000}), Verdict::resend);
}

TEST_F(Window, AckWithoutProgressSendsAgainAtOnceButOnceATimeout) {
  add(3);
  EXPECT_EQ(window.on_ack(0, true, {1'000'000}), Verdict::resend);
  EXPECT_EQ(window.on_ack(0, true, {2'000'000}), Verdict::nothing);
  EXPECT_EQ(window.on_ack(0, true, {51'000'000}), Verdict::resend);
}

TEST_F(Window, StatusWithoutProgressMeansNothing) {
  add(3);
  EXPECT_EQ(window.on_ack(0, false, {1}), Verdict::nothing);
}

TEST_F(Window, AckOfWhatWasNeverSentIsNonsense) {
  add(2);
  EXPECT_EQ(window.on_ack(3, true, {1}), Verdict::nonsense);
  EXPECT_EQ(window.on_ack(255, true, {1}), Verdict::nonsense);
  EXPECT_EQ(window.on_ack(2, true, {1}), Verdict::progress);
  EXPECT_EQ(window.on_ack(0, true, {1}), Verdict::nonsense) << "a board that forgot us";
}

}  // namespace
}  // namespace midstick::link
