#include "daemon/mixer/learn_table.hpp"

#include <algorithm>
#include <cmath>

namespace midstick::mixer {
namespace {

/// The positions that occur, rising, those that are the same made one.
std::vector<double> axis_of(std::span<const LearnedPoint> points, double LearnedPoint::*which) {
  std::vector<double> all;
  for (const LearnedPoint& p : points) all.push_back(std::clamp(p.*which, -1.0, 1.0));  // past an end is the end
  std::sort(all.begin(), all.end());
  std::vector<double> axis;
  for (const double x : all)
    if (axis.empty() || x - axis.back() > kSamePosition) axis.push_back(x);
  return axis;
}

std::size_t nearest(const std::vector<double>& axis, double x) {
  const auto at = std::min_element(axis.begin(), axis.end(), [&](double a, double b) { return std::abs(a - x) < std::abs(b - x); });
  return static_cast<std::size_t>(at - axis.begin());
}

std::string percent(double x) { return std::to_string(std::lround(x * 100)) + " %"; }

}  // namespace

Result<Table> learn_table(std::span<const LearnedPoint> points) {
  Table table{axis_of(points, &LearnedPoint::throttle), axis_of(points, &LearnedPoint::steering), {}, {}};
  const std::size_t rows = table.throttle.size(), columns = table.steering.size();
  if (rows < 2 || columns < 2)
    return Error{ErrorKind::bad_file, "found readings at " + std::to_string(rows) + " throttle and " + std::to_string(columns) +
                                          " steering positions; expected at least 2 of each"};
  table.left.assign(rows, std::vector<double>(columns));
  table.right = table.left;
  std::vector<std::vector<int>> readings(rows, std::vector<int>(columns));
  for (const LearnedPoint& p : points) {
    const std::size_t r = nearest(table.throttle, p.throttle), c = nearest(table.steering, p.steering);
    const double n = ++readings[r][c];
    table.left[r][c] += (p.left_us - table.left[r][c]) / n;
    table.right[r][c] += (p.right_us - table.right[r][c]) / n;
  }
  for (std::size_t r = 0; r < rows; ++r)
    for (std::size_t c = 0; c < columns; ++c)
      if (readings[r][c] == 0)
        return Error{ErrorKind::bad_file, "found no reading at throttle " + percent(table.throttle[r]) + ", steering " +
                                              percent(table.steering[c]) + "; expected one at every combination"};
  return table;
}

}  // namespace midstick::mixer
