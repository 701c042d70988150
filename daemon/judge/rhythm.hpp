// Do events come in a rhythm? The best common period of instants, and how likely chance alone would show one as good.
//
// For each candidate period the instants become phases on a circle; events that share a period share a phase. Two bounds on chance are
// used, the smaller counts: Rayleigh's exp(-n R^2) for many events spread around one phase (Mardia and Jupp, Directional Statistics, 2000,
// 10.4.1), and n w^(n-1) for n phases within an arc of w (from memory). Either is multiplied by the number of independent periods tried.
// Pure; cannot fail.
#pragma once

#include <span>

namespace midstick::judge {

struct Rhythm {
  double period_ms{0};      ///< 0: none found
  double concentration{0};  ///< R: 1 all at one phase, 0 spread evenly
  double chance{1};         ///< upper bound on the probability of as good a period among events at random instants
};

/// `at_ms`: instants in rising order. Periods from `shortest_ms` to a third of the span are tried. Fewer than 5 events: none.
Rhythm best_rhythm(std::span<const double> at_ms, double shortest_ms);

}  // namespace midstick::judge
