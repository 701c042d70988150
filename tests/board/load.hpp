// Load for the board's tests: pulses at random phase on all stimulus lines, and edges on all response lines. Seeded; the seed is printed by
// whoever fails. Plain functions over the test host; ticks and picoseconds of true time.
#pragma once

#include <map>
#include <random>

#include "tests/board/support.hpp"

namespace midstick::board_test {

/// Widths of 800 to 2200 us, `count` of them, ticks.
inline std::vector<std::uint32_t> random_widths(std::mt19937_64& random, std::size_t count) {
  std::uniform_int_distribution<std::uint32_t> width(800 * 16, 2200 * 16);
  std::vector<std::uint32_t> widths(count);
  for (auto& one : widths) one = width(random);
  return widths;
}

/// Pulses on all six lines for `ms` from `first`, each line at `hz` and a phase of its own.
inline std::vector<Edge> six_lines(std::mt19937_64& random, double hz, double ms, std::uint32_t first) {
  const auto period = static_cast<std::uint32_t>(16e6 / hz);
  std::uniform_int_distribution<std::uint32_t> phase(0, period - 1);
  std::vector<std::vector<Edge>> lists;
  for (std::uint8_t line = 0; line < 6; ++line)
    lists.push_back(pulses(line, first + phase(random), period, random_widths(random, static_cast<std::size_t>(ms * hz / 1000))));
  return merged(std::move(lists), first);
}

/// Edges on all eight response lines: pulses at `hz` a line, width random between 100 us and the period less 100 us, from `from_ps` for
/// `ms`.
inline std::vector<vb::InjectedEdge> eight_responses(std::mt19937_64& random, double hz, double ms, std::int64_t from_ps) {
  const double period = 1e12 / hz;
  std::uniform_real_distribution<double> phase(0, period), width(1e8, period - 1e8);
  std::vector<vb::InjectedEdge> edges;
  for (std::uint8_t line = 0; line < 8; ++line) {
    const double first = phase(random);
    for (std::size_t i = 0; i < static_cast<std::size_t>(ms * hz / 1000); ++i) {
      const double rise = static_cast<double>(from_ps) + first + period * static_cast<double>(i);
      edges.push_back({static_cast<std::int64_t>(rise), line, true});
      edges.push_back({static_cast<std::int64_t>(rise + width(random)), line, false});
    }
  }
  std::stable_sort(edges.begin(), edges.end(), [](const auto& a, const auto& b) { return a.at_ps < b.at_ps; });
  return edges;
}

}  // namespace midstick::board_test
