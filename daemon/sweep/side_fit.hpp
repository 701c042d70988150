// One side of one output's answer to one input, fitted: flat up to an edge, then a line or a bent curve, then flat again where it clips.
//
//   y = level                                     u <= edge
//   y = level + offset + shape(min(u, end) - edge) u > edge,   shape(w) = a w, or a w + b w^2 + c w^3 where a line does not do
//
// u is the distance of the input from its centre, growing outwards; y the output's width; us both. Edge, end and coefficients come from
// one least-squares fit; U (95 %) is the fit's (Student t) and the readings' common U together. Where the output jumps at the edge
// (offset), no fit can place the edge better than the two positions it lies between: half their distance, rectangular, and leaving and
// entering are told apart. Pure; members that were not found are empty.
#pragma once

#include <optional>
#include <span>

namespace midstick::sweep {

struct Value {
  double value{0}, u{0};  ///< u: U (95 %)
};

/// A settled reading on one side; `outwards` on the way away from the centre.
struct SidePoint {
  double u{0}, y{0};
  bool outwards{true};
};

struct SideFit {
  bool answers{false};                     ///< the output moves at all on this side
  bool straight{true};                     ///< a line does
  std::optional<Value> edge;               ///< u; where it jumps: the middle between leaving and entering
  std::optional<Value> leaving, entering;  ///< u: the edge on the way out and on the way in
  std::optional<Value> offset;             ///< y just beyond the edge, from level; 0 within U where the curve begins at level
  bool jumps{false};                       ///< offset is not 0
  std::optional<Value> end;                ///< u from which it is flat again; none: it is not, within the sweep
  std::optional<Value> gain;               ///< slope of the straight line that fits [gain_from, gain_to] best
  double gain_from{0}, gain_to{0};         ///< u
  double gain_y{0};                        ///< y of that line at gain_from
  Value last;                              ///< y at the end of the sweep
  double linearity{0};                     ///< largest distance of a reading in the gain's stretch from that line, us of y
  double residual_sd{0};                   ///< of the readings about the fitted curve, us of y
};

/// `level`: output at the centre. `common`: U that all readings share, us. Points in any order.
SideFit fit_side(std::span<const SidePoint> points, double level, double common);

}  // namespace midstick::sweep
