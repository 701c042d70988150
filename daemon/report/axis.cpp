#include "daemon/report/axis.hpp"

#include <algorithm>
#include <cmath>

#include "daemon/report/numbers.hpp"

namespace midstick::report {

void Range::add(double value) {
  if (!std::isfinite(value)) return;
  low = empty ? value : std::min(low, value);
  high = empty ? value : std::max(high, value);
  empty = false;
}

Range widened(const Range& range, double margin) {
  if (range.empty) return {0, 1, false};
  const double least = std::max(std::abs(range.low), std::abs(range.high)) * 1e-9;
  if (range.length() <= least) {
    const double half = std::max(0.5, least);
    return {range.low - half, range.high + half, false};
  }
  return {range.low - range.length() * margin, range.high + range.length() * margin, false};
}

Ticks nice_ticks(const Range& range, int wanted) {
  const double rough = range.length() / std::max(1, wanted);
  const double decade = std::pow(10.0, std::floor(std::log10(rough)));
  const double share = rough / decade;
  Ticks ticks;
  // Nearest of 1, 2, 5, 10 on a logarithmic scale: the borders are the geometric means.
  ticks.step = decade * (share < std::sqrt(2.0) ? 1 : share < std::sqrt(10.0) ? 2 : share < std::sqrt(50.0) ? 5 : 10);
  const auto first = std::llround(std::ceil(range.low / ticks.step - 1e-9));
  const auto last = std::llround(std::floor(range.high / ticks.step + 1e-9));
  for (auto i = first; i <= last; ++i) ticks.at.push_back(static_cast<double>(i) * ticks.step);
  return ticks;
}

std::string tick_label(double value, double step) {
  const int decimals = std::clamp(-static_cast<int>(std::floor(std::log10(step) + 1e-9)), 0, 9);
  return fixed(value, decimals);
}

double Scale::operator()(double value) const {
  constexpr double kFarOutside = 10'000;
  const double pixel = from + (value - range.low) / range.length() * (to - from);
  return std::clamp(pixel, -kFarOutside, kFarOutside);
}

}  // namespace midstick::report
