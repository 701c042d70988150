#include "daemon/clock/reference.hpp"

#include <cmath>
#include <vector>

namespace midstick::clock {
namespace {

constexpr double kTicksPerSecond = 16e6;
constexpr double kOff = 0.01;  ///< a board's clock is never further off
constexpr int kMostMissing = 10;
constexpr int kLeastPulses = 5;

struct Pulse {
  int second;
  double ticks;  ///< since the first
};

/// The chain of whole seconds that begins with rise `first`.
std::vector<Pulse> chain(std::span<const BoardTime> rises, std::size_t first) {
  std::vector<Pulse> pulses{{0, 0}};
  for (const BoardTime rise : rises.subspan(first + 1)) {
    const auto ticks = static_cast<double>((rise - rises[first]).count);
    const double seconds = (ticks - pulses.back().ticks) / kTicksPerSecond;
    const double whole = std::round(seconds);
    if (whole < 1 || whole > kMostMissing + 1 || std::abs(seconds - whole) > kOff * whole) continue;
    pulses.push_back({pulses.back().second + static_cast<int>(whole), ticks});
  }
  return pulses;
}

}  // namespace

std::optional<ReferenceFinding> against_reference(std::span<const BoardTime> rises, double half_width) {
  std::vector<Pulse> pulses;
  for (std::size_t first = 0; first < rises.size(); ++first)
    if (auto found = chain(rises, first); found.size() > pulses.size()) pulses = std::move(found);
  const auto n = static_cast<double>(pulses.size());
  if (pulses.size() < kLeastPulses) return std::nullopt;

  double second = 0, ticks = 0, xx = 0, xy = 0, squares = 0;
  for (const Pulse& p : pulses) second += p.second / n, ticks += p.ticks / n;
  for (const Pulse& p : pulses) xx += std::pow(p.second - second, 2), xy += (p.second - second) * (p.ticks - ticks);
  const double rate = xy / xx;
  for (const Pulse& p : pulses) squares += std::pow(p.ticks - ticks - rate * (p.second - second), 2);

  ReferenceFinding out;
  out.pulses = static_cast<int>(pulses.size());
  out.seconds = pulses.back().second;
  out.missing = out.seconds + 1 - out.pulses;
  out.strays = static_cast<int>(rises.size()) - out.pulses;
  out.board_ppm = (rate / kTicksPerSecond - 1) * 1e6;
  const double scatter = 3 * std::sqrt(squares / (n - 2) / xx);
  out.uncertainty_ppm = (scatter + 2 * half_width / out.seconds) / kTicksPerSecond * 1e6;
  return out;
}

}  // namespace midstick::clock
