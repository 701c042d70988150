#include "daemon/judge/rhythm.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <vector>

namespace midstick::judge {
namespace {

constexpr std::size_t kFewest = 5, kMost = 300;  // more events than that add time and no knowledge
constexpr double kPerTurn = 8;                   // candidates a turn of the phase over the whole span
constexpr double kAsGood = 0.98;                 // a longer period this nearly as concentrated is preferred: its parts fit as well

struct Fit {
  double frequency{0}, concentration{0};
};

double concentration(std::span<const double> at, double frequency) {
  double c = 0, s = 0;
  for (const double t : at) {
    const double turn = 2 * std::numbers::pi * t * frequency;
    c += std::cos(turn), s += std::sin(turn);
  }
  return std::hypot(c, s) / static_cast<double>(at.size());
}

/// Share of the circle that holds all phases.
double arc(std::span<const double> at, double frequency) {
  std::vector<double> phase;
  for (const double t : at) phase.push_back(t * frequency - std::floor(t * frequency));
  std::sort(phase.begin(), phase.end());
  double gap = phase.front() + 1 - phase.back();
  for (std::size_t i = 1; i < phase.size(); ++i) gap = std::max(gap, phase[i] - phase[i - 1]);
  return 1 - gap;
}

Fit refined(std::span<const double> at, Fit best, double step) {
  const double from = best.frequency;
  for (int i = -20; i <= 20; ++i) {
    const double f = from + step * i / 20;
    if (f <= 0) continue;
    if (const double r = concentration(at, f); r > best.concentration) best = {f, r};
  }
  return best;
}

}  // namespace

Rhythm best_rhythm(std::span<const double> all, double shortest_ms) {
  const auto at = all.first(std::min(all.size(), kMost));
  if (at.size() < kFewest) return {};
  const double span = at.back() - at.front(), lowest = 3 / span, highest = 1 / shortest_ms;
  if (!(highest > lowest)) return {};
  const double step = 1 / (kPerTurn * span);
  std::vector<Fit> fits;
  double top = 0;
  for (double f = lowest; f <= highest; f += step) {
    fits.push_back({f, concentration(at, f)});
    top = std::max(top, fits.back().concentration);
  }
  // Of a comb of parts of one period, the longest: the first near the top, followed up to its own peak.
  auto best = std::find_if(fits.begin(), fits.end(), [&](const Fit& f) { return f.concentration >= kAsGood * top; });
  while (best + 1 != fits.end() && (best + 1)->concentration > best->concentration) ++best;
  const Fit fit = refined(at, *best, step);
  const double n = static_cast<double>(at.size()), tried = (highest - lowest) * span;
  const double single = std::min(std::exp(-n * fit.concentration * fit.concentration), n * std::pow(arc(at, fit.frequency), n - 1));
  return {1 / fit.frequency, fit.concentration, std::min(1.0, single * tried)};
}

}  // namespace midstick::judge
