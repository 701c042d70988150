// Two samples, are they alike? Rank tests that ask nothing of the shape of either, with exact small-sample values. Pure functions.
//
// Both p-values are conditional on the ties that are there (widths quantised to a tick make many), so they stay exact with them. Values
// within a sample must be independent: nights that follow one another slowly are not, and then p is too small. A small p says that the
// samples differ, `effect` how much; neither says why. Values must be finite.
#pragma once

#include <cstdint>
#include <optional>
#include <span>

namespace midstick::statistics {

/// Mann and Whitney's U: does one sample tend to be larger?
struct MannWhitney {
  double u{0};       ///< pairs in which the first sample's value is larger, a tie counting half; 0 .. n m
  double effect{0};  ///< rank-biserial correlation = Cliff's delta: 2 U / (n m) - 1; +1 when all of the first are larger, 0 alike
  double p{1};       ///< two-sided: chance of a U as far from n m / 2 or further, when both come from the same population
  bool exact{true};  ///< counted; else a normal approximation with tie and continuity correction
};

/// Counted up to this many values in both samples together.
inline constexpr std::size_t kExactRanks = 60;

/// Nothing when a sample is empty.
std::optional<MannWhitney> mann_whitney(std::span<const double> first, std::span<const double> second);

/// z of U without tie or continuity correction, as textbooks print it: (U - n m / 2) / sqrt(n m (n + m + 1) / 12).
double mann_whitney_z(double u, std::size_t n, std::size_t m);

/// Kolmogorov and Smirnov's D: does anything about the two distributions differ, centre or spread or shape?
struct KolmogorovSmirnov {
  double d{0};  ///< largest distance of the two empirical distributions, 0..1
  double p{1};  ///< exact, by counting lattice paths: chance of this D or more, when both come from the same population
};

/// Nothing when a sample is empty. Takes n times m steps.
std::optional<KolmogorovSmirnov> kolmogorov_smirnov(std::span<const double> first, std::span<const double> second);

}  // namespace midstick::statistics
