// The corridor against plain search: its answers are exact, whatever the points.
#include "daemon/clock/corridor.hpp"

#include <gtest/gtest.h>
#include <rapidcheck.h>

#include <algorithm>
#include <limits>

namespace midstick::clock {
namespace {

struct Point {
  double tick, floor, ceiling;
};

constexpr RateBounds kAmong{60, 65};

/// Points about a line of some rate, in order, that leave it up to 200 ns of room each side, or take away 20.
std::vector<Point> some_points() {
  const double rate = 61 + *rc::gen::inRange(0, 3000) / 1e3;
  std::vector<Point> points;
  double tick = -*rc::gen::inRange(0, 10'000);
  const int count = *rc::gen::inRange(2, 40);
  for (int i = 0; i < count; ++i) {
    tick += 1 + *rc::gen::inRange(0, 300);
    points.push_back({tick, rate * tick - *rc::gen::inRange(-20, 200), rate * tick + *rc::gen::inRange(-20, 200)});
  }
  return points;
}

Corridor corridor_of(const std::vector<Point>& points) {
  Corridor corridor;
  for (const Point& p : points) {
    corridor.floor(p.tick, p.floor);
    corridor.ceiling(p.tick, p.ceiling);
  }
  return corridor;
}

double plain_slack(const std::vector<Point>& points, double rate) {
  double above = -std::numeric_limits<double>::infinity(), below = -above;
  for (const Point& p : points) {
    above = std::max(above, p.floor - rate * p.tick);
    below = std::min(below, p.ceiling - rate * p.tick);
  }
  return (below - above) / 2;
}

TEST(Corridor, SlackIsThatOfAllPoints) {
  EXPECT_TRUE(rc::check([] {
    const auto points = some_points();
    const double rate = 60 + *rc::gen::inRange(0, 5000) / 1e3;
    RC_ASSERT(std::abs(corridor_of(points).slack(rate) - plain_slack(points, rate)) < 1e-6);
  }));
}

TEST(Corridor, NoRateIsRoomierThanTheRoomiest) {
  EXPECT_TRUE(rc::check([] {
    const auto points = some_points();
    const double best = corridor_of(points).roomiest(kAmong);
    RC_ASSERT(best >= kAmong.low && best <= kAmong.high);
    const double most = plain_slack(points, best);
    for (int i = 0; i <= 1000; ++i) RC_ASSERT(plain_slack(points, 60 + 5 * i / 1e3) <= most + 1e-6);
  }));
}

TEST(Corridor, PossibleRatesEndWhereSlackRunsOut) {
  EXPECT_TRUE(rc::check([] {
    const auto points = some_points();
    const Corridor corridor = corridor_of(points);
    const double best = corridor.roomiest(kAmong), least = corridor.slack(best) - *rc::gen::inRange(1, 100);
    const auto [low, high] = corridor.possible(kAmong, best, least);
    RC_ASSERT(low <= best && best <= high);
    for (const double edge : {low, high}) {
      RC_ASSERT(plain_slack(points, edge) >= least - 1e-6);
      RC_ASSERT(edge == kAmong.low || edge == kAmong.high || plain_slack(points, edge) < least + 1e-6);
    }
  }));
}

TEST(Corridor, IsNegativeWhenNoLineFits) {
  const Corridor corridor = corridor_of({{0, -1, 1}, {100, 6249, 6251}, {200, 12'600, 12'602}});
  EXPECT_LT(corridor.slack(corridor.roomiest(kAmong)), 0);
}

}  // namespace
}  // namespace midstick::clock
