// What the board reports becomes evidence, and what makes the bench unfit ends the run with a reason in words.
#include "daemon/engine/recorder.hpp"

#include <gtest/gtest.h>

namespace midstick::engine {
namespace {

link::BoardStatus status_at(std::int64_t ticks) {
  link::BoardStatus s;
  s.now = {ticks};
  s.mode = protocol::BoardMode::started;
  s.supply_mv = 12'000;
  return s;
}

TEST(Recorder, ABoardFaultEndsTheRunAndNamesItsNumber) {
  Recorder r;
  r.take(link::BoardEvent{{1000}, protocol::EventCode::fault, static_cast<std::uint16_t>(protocol::Fault::host_silent)});
  ASSERT_TRUE(r.trouble());
  EXPECT_EQ(r.trouble()->kind, ErrorKind::bench_unfit);
  EXPECT_NE(r.trouble()->message.find("host_silent, reason "), std::string::npos) << r.trouble()->message;
  ASSERT_EQ(r.capture().events.size(), 1u);
  EXPECT_EQ(r.capture().events[0].kind, capture::EventKind::board_fault);
}

/// It is a person's act, or a broken wire: whoever tries a bench that failed once more must not try this one.
TEST(Recorder, AnOpenedStopLoopIsToldFromABenchThatFailed) {
  Recorder by_event, by_status, refused, shut_again;
  by_event.take(link::BoardEvent{{1000}, protocol::EventCode::fault, static_cast<std::uint16_t>(protocol::Fault::stop_loop_open)});
  EXPECT_EQ(by_event.trouble()->kind, ErrorKind::stop_loop);
  EXPECT_NE(by_event.trouble()->message.find("stop_loop_open, reason 2"), std::string::npos) << by_event.trouble()->message;

  by_status.take(link::BoardEvent{{5}, protocol::EventCode::started, 0});
  auto s = status_at(10);  // the button let go before the status was made
  s.mode = protocol::BoardMode::faulted, s.fault = protocol::Fault::stop_loop_open;
  by_status.take(s);
  EXPECT_EQ(by_status.trouble()->kind, ErrorKind::stop_loop);

  auto open = status_at(1);
  open.mode = protocol::BoardMode::faulted, open.fault = protocol::Fault::stop_loop_open, open.stop_loop_open = true;
  refused.take(open);  // it was open before `start`
  refused.take(link::Refused{protocol::Refusal::faulted, "start"});
  EXPECT_EQ(refused.trouble()->kind, ErrorKind::stop_loop);

  shut_again.take(open);
  open.stop_loop_open = false;
  shut_again.take(open);
  shut_again.take(link::Refused{protocol::Refusal::late, "stimulate"});
  EXPECT_EQ(shut_again.trouble()->kind, ErrorKind::bench_unfit) << "what was before this run is not why it ended";
}

TEST(Recorder, LossOnTheWireIsKeptAsASpanAndTheRunGoesOn) {
  Recorder r;
  r.take(link::Lost{2, 0, {500}, {900}});
  EXPECT_FALSE(r.trouble());
  ASSERT_EQ(r.capture().events.size(), 1u);
  EXPECT_EQ(r.capture().events[0].kind, capture::EventKind::edges_lost);
  EXPECT_EQ(r.capture().events[0].since.count, 500);
  EXPECT_EQ(r.capture().events[0].at.count, 900);
}

TEST(Recorder, EdgesDroppedInsideTheBoardSpanFromTheStatusBefore) {
  Recorder r;
  r.take(status_at(1000));
  auto later = status_at(2000);
  later.edges_dropped = 3;
  r.take(later);
  r.take(later);  // the count stays; it is one loss, not two
  int losses = 0;
  for (const auto& e : r.capture().events)
    if (e.kind == capture::EventKind::edges_lost) {
      ++losses;
      EXPECT_EQ(e.since.count, 1000);
      EXPECT_EQ(e.value, 3);
    }
  EXPECT_EQ(losses, 1);
}

TEST(Recorder, ARestartOrARefusalOrAFaultedStateIsTrouble) {
  Recorder restart, refused, faulted;
  restart.take(link::Restarted{4, 5});
  refused.take(link::Refused{protocol::Refusal::late, "stimulus"});
  faulted.take(link::BoardEvent{{5}, protocol::EventCode::started, 0});
  auto s = status_at(10);
  s.mode = protocol::BoardMode::faulted;
  s.fault = protocol::Fault::host_silent;
  faulted.take(s);
  EXPECT_NE(restart.trouble()->message.find("boot 4 became boot 5"), std::string::npos);
  EXPECT_NE(refused.trouble()->message.find("refused"), std::string::npos);
  EXPECT_NE(faulted.trouble()->message.find("host_silent"), std::string::npos);
}

link::BoardStatus faulted_at(std::int64_t ticks) {
  auto s = status_at(ticks);
  s.mode = protocol::BoardMode::faulted;
  s.fault = protocol::Fault::host_silent;
  s.edges_dropped = 7;
  return s;
}

TEST(Recorder, AStatusFromBeforeTheRunBeganIsNotTheRuns) {
  Recorder r;  // a daemon was killed, the board went safe and says so every 100 ms; start is on its way
  r.take(faulted_at(1000));
  EXPECT_FALSE(r.trouble()) << r.trouble()->message;
  EXPECT_FALSE(r.status());
  r.take(link::BoardEvent{{2000}, protocol::EventCode::started, 0});
  r.take(status_at(3000));
  EXPECT_TRUE(r.capture().events.size() == 1 && r.capture().events[0].kind == capture::EventKind::supply) << "no edge of this run was lost";
  r.take(faulted_at(4000));
  EXPECT_TRUE(r.trouble());
}

TEST(Recorder, AFaultedStateCountsWhenTheBeginningWasLostOnTheWire) {
  Recorder r;
  r.take(link::Lost{1, 0, {500}, {900}});
  r.take(faulted_at(1000));
  EXPECT_TRUE(r.trouble());
}

TEST(Recorder, SupplyIsNotedOnceAndAgainOnlyWhenItMoves) {
  Recorder r;
  for (const int mv : {12'000, 12'050, 11'900, 5'000}) {
    auto s = status_at(mv);
    s.supply_mv = static_cast<std::uint16_t>(mv);
    r.take(s);
  }
  EXPECT_EQ(r.capture().events.size(), 2u);
}

}  // namespace
}  // namespace midstick::engine
