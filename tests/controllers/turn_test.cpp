// What the reverse controller does over time, compiled for the host: the same header that goes into the image.
#include <gtest/gtest.h>

#include <cmath>
#include <cstdlib>
#include <vector>

#include "daemon/mixer/slew.hpp"
#include "fixtures/controllers/reverse/turn.hpp"

namespace reverse {
namespace {

constexpr Ticks kStep = drive::ms(5);

/// A machine that is asked every 5 ms; time starts anywhere.
struct Driver {
  Machine machine;
  Ticks now = 0xFFFFF000;  // the clock wraps early on
  std::vector<Tracks> seen;

  void hold(std::int16_t throttle, std::int16_t steering, unsigned ms) {
    for (Ticks end = now + drive::ms(static_cast<std::uint16_t>(ms)); now != end;) {
      now += kStep;
      seen.push_back(machine.follow(throttle, steering, now, kStep));
    }
  }
  /// How long the left track, having been ahead, was at neutral before its first reverse; negative when it never reversed.
  double left_rest_ms() const {
    int rest = 0;
    for (std::size_t i = 1; i < seen.size(); ++i) {
      if (seen[i].left == 0) ++rest;
      if (seen[i].left > 0) rest = 0;
      if (seen[i].left < 0) return rest * 5.0;
    }
    return -1;
  }
};

TEST(ReverseSlew, RisesInHalfASecondAndFallsInAQuarter) {
  Slewed stick;
  for (int i = 0; i < 99; ++i) stick.advance(1000, kStep);
  EXPECT_EQ(stick.position(), 990);
  stick.advance(1000, kStep);
  EXPECT_EQ(stick.position(), 1000);
  for (int i = 0; i < 49; ++i) stick.advance(0, kStep);
  EXPECT_EQ(stick.position(), 20);
  stick.advance(0, kStep);
  EXPECT_EQ(stick.position(), 0);
}

TEST(ReverseSlew, ALongPauseIsNoLeap) {
  Slewed stick;
  stick.advance(1000, drive::ms(5000));
  EXPECT_LE(stick.position(), 100);
}

// Written from the spec by other hands.
TEST(ReverseSlew, AgreesWithTheReferenceModelOfTheSpec) {
  midstick::mixer::InputSpec spec;
  spec.slew_up = 2;
  spec.slew_down = 4;
  midstick::mixer::SlewedStick model(spec);
  Slewed stick;
  unsigned random = 1;
  std::int16_t target = 0;
  for (int i = 0; i < 20000; ++i) {
    random = random * 1103515245u + 12345u;
    if (random >> 24 < 12) target = static_cast<std::int16_t>(static_cast<int>((random >> 8) % 2001) - 1000);
    const Ticks time = (random >> 16) % 40000;
    stick.advance(target, time);
    const double expected = model.advance(target / 1e3, time / 2e6);
    ASSERT_NEAR(stick.position() / 1e3, expected, 0.002) << "step " << i;
  }
}

TEST(ReverseTurn, ATrackRestsAtNeutralBetweenAheadAndReverse) {
  Driver driver;
  driver.hold(1000, 0, 1000);
  driver.hold(-1000, 0, 2000);
  EXPECT_GE(driver.left_rest_ms(), 300);
  EXPECT_LE(driver.left_rest_ms(), 320);
  EXPECT_EQ(driver.seen.back().left, -1000);
  EXPECT_EQ(driver.seen.back().right, -1000);
}

TEST(ReverseTurn, AStickThatRestedAtNeutralReversesAtOnce) {
  Driver driver;
  driver.hold(1000, 0, 1000);
  driver.hold(0, 0, 600);
  driver.seen.clear();
  driver.hold(-1000, 0, 20);
  EXPECT_LT(driver.seen.back().left, 0);
}

TEST(ReverseTurn, FromReverseToAheadNothingWaits) {
  Driver driver;
  driver.hold(-1000, 0, 1000);
  driver.hold(1000, 0, 300);
  EXPECT_GT(driver.seen.back().left, 0);
}

TEST(ReverseTurn, TheOtherTrackWaitsWithTheOneThatTurnsRound) {
  Driver driver;
  driver.hold(500, 0, 1000);
  driver.seen.clear();
  driver.hold(500, -1000, 1500);  // the left track turns round, the right goes on
  std::int16_t right_at_rest = 0;
  for (const Tracks& tracks : driver.seen) {
    if (tracks.left != 0) continue;
    if (right_at_rest == 0) right_at_rest = tracks.right;
    EXPECT_EQ(tracks.right, right_at_rest);
  }
  EXPECT_GT(right_at_rest, 500);
  EXPECT_LT(driver.seen.back().left, -300);
}

TEST(ReverseTurn, NoTrackEverJumps) {
  Driver driver;
  unsigned random = 7;
  for (int move = 0; move < 200; ++move) {
    random = random * 1103515245u + 12345u;
    driver.hold(static_cast<std::int16_t>(static_cast<int>((random >> 8) % 2001) - 1000),
                static_cast<std::int16_t>(static_cast<int>((random >> 20) % 2001) - 1000), 5 * (1 + (random >> 16) % 100));
  }
  // In 5 ms a stick moves by 20 at most, so a track by 40; where a track begins to rest, the last step is taken back besides.
  for (std::size_t i = 1; i < driver.seen.size(); ++i) {
    ASSERT_LE(std::abs(driver.seen[i].left - driver.seen[i - 1].left), 90) << i;
    ASSERT_LE(std::abs(driver.seen[i].right - driver.seen[i - 1].right), 90) << i;
  }
}

TEST(ReverseTurn, AStopIsAtOnceAndCountsAsRest) {
  Driver driver;
  driver.hold(1000, 500, 1000);
  const Tracks stopped = driver.machine.stop(driver.now);
  EXPECT_EQ(stopped.left, 0);
  EXPECT_EQ(stopped.right, 0);
  driver.now += drive::ms(400);
  driver.machine.stop(driver.now);
  driver.seen.clear();
  driver.hold(-1000, 0, 20);
  EXPECT_LT(driver.seen.back().left, 0);
}

}  // namespace
}  // namespace reverse
