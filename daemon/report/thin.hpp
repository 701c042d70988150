// Fewer points for a plot without losing an outlier: in each column of pixels the first, lowest, highest and last point stay.
//
// Works on points already in pixels. NaN in either coordinate breaks a line and is kept as one break. Pure; result size is at most
// 6 points a column. Points stay in their order.
#pragma once

#include <vector>

namespace midstick::report {

struct Point {
  double x{0}, y{0};
  bool drawn() const { return x == x && y == y; }
};

/// For lines and steps. `columns`: the number of buckets wanted. Lines whose x goes back and forth are cut into that many runs of points
/// instead.
std::vector<Point> thin_line(const std::vector<Point>& points, int columns);

/// For dots: one point for each cell of `cell` pixels square, so that dots on top of one another are drawn once.
std::vector<Point> thin_dots(const std::vector<Point>& points, double cell);

}  // namespace midstick::report
