#include "daemon/report/thin.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <limits>
#include <unordered_set>

namespace midstick::report {
namespace {

constexpr double kNaN = std::numeric_limits<double>::quiet_NaN();

/// Indices of the points of one bucket that must stay.
void keep_extremes(const std::vector<Point>& points, std::size_t from, std::size_t to, std::vector<Point>& out) {
  std::array<std::size_t, 6> keep{from, from, from, from, from, to - 1};
  for (std::size_t i = from; i < to; ++i) {
    if (points[i].y < points[keep[1]].y) keep[1] = i;
    if (points[i].y > points[keep[2]].y) keep[2] = i;
    if (points[i].x < points[keep[3]].x) keep[3] = i;
    if (points[i].x > points[keep[4]].x) keep[4] = i;
  }
  std::sort(keep.begin(), keep.end());
  const auto* end = std::unique(keep.begin(), keep.end());
  for (const auto* k = keep.begin(); k != end; ++k) out.push_back(points[*k]);
}

/// A stretch without breaks, [from, to).
void thin_stretch(const std::vector<Point>& points, std::size_t from, std::size_t to, double pixels, std::size_t longest,
                  std::vector<Point>& out) {
  const bool forward = std::is_sorted(points.begin() + static_cast<std::ptrdiff_t>(from), points.begin() + static_cast<std::ptrdiff_t>(to),
                                      [](const Point& a, const Point& b) { return a.x < b.x; });
  for (std::size_t begin = from; begin < to;) {
    auto end = begin + 1;
    const double column = std::floor(points[begin].x / pixels);
    while (end < to && (forward ? std::floor(points[end].x / pixels) == column : end - begin < longest)) ++end;
    keep_extremes(points, begin, end, out);
    begin = end;
  }
}

/// Without the breaks that lie inside one column: nobody can see them, and a line full of them would not get shorter.
std::vector<Point> without_hidden_breaks(const std::vector<Point>& points, double pixels) {
  std::vector<Point> out;
  bool broken = false;
  for (const auto& p : points) {
    if (!p.drawn()) {
      broken = true;
      continue;
    }
    if (broken && !out.empty() && std::floor(out.back().x / pixels) != std::floor(p.x / pixels)) out.push_back({kNaN, kNaN});
    broken = false;
    out.push_back(p);
  }
  return out;
}

}  // namespace

std::vector<Point> thin_line(const std::vector<Point>& points, int columns) {
  const auto wanted = static_cast<std::size_t>(std::max(1, columns));
  if (points.size() <= wanted) return points;
  double low = std::numeric_limits<double>::infinity();
  double high = -low;
  for (const auto& p : points) {
    if (!p.drawn()) continue;
    low = std::min(low, p.x);
    high = std::max(high, p.x);
  }
  const double pixels = std::max((high - low) / static_cast<double>(wanted), 1e-6);
  const auto joined = without_hidden_breaks(points, pixels);
  const auto longest = joined.size() / wanted + 1;
  std::vector<Point> out;
  for (std::size_t i = 0; i < joined.size();) {
    if (!joined[i].drawn()) {
      out.push_back(joined[i++]);
      continue;
    }
    auto end = i;
    while (end < joined.size() && joined[end].drawn()) ++end;
    thin_stretch(joined, i, end, pixels, longest, out);
    i = end;
  }
  return out;
}

std::vector<Point> thin_dots(const std::vector<Point>& points, double cell) {
  std::unordered_set<std::uint64_t> seen;
  std::vector<Point> out;
  for (const auto& p : points) {
    if (!p.drawn()) continue;
    const auto column = static_cast<std::uint32_t>(std::llround(p.x / cell));
    const auto row = static_cast<std::uint32_t>(std::llround(p.y / cell));
    if (seen.insert((static_cast<std::uint64_t>(column) << 32U) | row).second) out.push_back(p);
  }
  return out;
}

}  // namespace midstick::report
