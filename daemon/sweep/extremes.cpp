#include "daemon/sweep/extremes.hpp"

#include <algorithm>
#include <cmath>
#include <vector>

namespace midstick::sweep {
namespace {

/// Variance of the mean of two thirds of the pulses: 3/2 of that of all, one half more than `u` holds.
Value measured(const Level& picked) { return {picked.rest_us, std::hypot(picked.u, picked.scatter_u * std::sqrt(0.5))}; }

}  // namespace

std::optional<Extremes> extremes(std::span<const Level> levels) {
  std::vector<Level> fit;
  std::ranges::copy_if(levels, std::back_inserter(fit),
                       [](const Level& l) { return l.settled() && l.pulses >= static_cast<int>(Level::kPickingShare); });
  if (fit.empty()) return std::nullopt;
  const auto [low, high] = std::ranges::minmax(fit, {}, &Level::first_us);
  return Extremes{measured(low), measured(high)};
}

}  // namespace midstick::sweep
