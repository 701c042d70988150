// What bounds leave for a straight line: the exact answer, from two convex hulls.
//
// A line ns(tick) must not pass below any `floor` point and not above any `ceiling` point. For a rate, its slack is half the vertical gap
// that remains between the highest floor and the lowest ceiling seen along that rate: concave and piecewise linear in the rate, with
// corners at the slopes of the hulls' edges. So the rate with the largest slack is one of those slopes, and the rates that fit at all are
// found on one straight piece each. Positive slack: room on both sides; negative: no line of that rate fits. Points come in order of their
// tick, each kind by itself. Pure, no threads, cannot fail. Any unit of tick and ns; rates are ns per tick.
#pragma once

#include <vector>

namespace midstick::clock {

/// ns per board tick.
struct RateBounds {
  double low{0}, high{0};
};

class Corridor {
 public:
  void floor(double tick, double ns);    ///< line(tick) >= ns
  void ceiling(double tick, double ns);  ///< line(tick) <= ns

  /// Half the gap, ns; infinite without a floor or without a ceiling.
  double slack(double rate) const;
  /// ns at tick 0 of the line of this rate that has the same slack on both sides.
  double middle(double rate) const;
  /// The rate within `among` whose slack is largest; the middle, where several are equally roomy.
  double roomiest(RateBounds among) const;
  /// All rates within `among` whose slack is at least `least`; `inside` is one of them.
  RateBounds possible(RateBounds among, double inside, double least) const;

 private:
  struct Corner {
    double tick, ns;
  };
  using Hull = std::vector<Corner>;

  double highest_floor(double rate) const;
  double lowest_ceiling(double rate) const;
  static void push(Hull& hull, Corner corner, double side);
  std::vector<double> corners_of_slack(RateBounds among) const;

  Hull floor_;    // upper hull
  Hull ceiling_;  // lower hull
};

}  // namespace midstick::clock
