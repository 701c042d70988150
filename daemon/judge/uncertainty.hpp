// The one place where a span of the capture gets its uncertainty: U, the half width about the reading that holds 95 % of the errors that
// the two stamps and the clock can make.
//
// It is taken from the errors' own distributions (JCGM 101:2008 5.3.2; statistics/span_error.hpp), because k = 2 does not fit them: a tick
// is a rectangle, and two ticks are a triangle (JCGM 100:2008 G.1.3). What is known of one stamp depends on how it was made:
//   commanded       a stimulus edge, or an instant set by the script: at its tick, no error
//   input capture   the first tick at or after the edge: rectangular, 0 to 1 tick late (4.3.7). Every such stamp is late by the same
//   synchroniser
//                   as well, up to 4 ticks on the chip (data sheet, from memory): it falls out between two of them, and against a
//                   commanded edge it stays until a calibration has taken it out
//   pin change      within +- half_width of the tick after the edge, rectangular: -half to half + 1. With a calibration: as the lone
//                   stamps measured then, each up to a tick later for the phase of the edge. A crowded stamp keeps the board's bound: how
//                   late it is hangs on what crowds it, so a sample of other crowds proves nothing, and its U is too wide rather than too
//                   narrow
// The clock's rate is taken as normal (clock_map.hpp). Readings are true us. Pure; cannot fail.
#pragma once

#include <cstdint>

#include "daemon/capture/capture.hpp"
#include "daemon/core/time.hpp"

namespace midstick::judge {

/// In place of a stamp's half width: the edge is where it was commanded. A response's own half width is never 0.
inline constexpr std::uint16_t kCommanded = 0;

/// U (95 %) in us of the true length of `span` between edges of these half widths, or kCommanded.
double span_uncertainty_us(const capture::Capture& capture, BoardSpan span, std::uint16_t begin_half, std::uint16_t end_half);

/// U (95 %) of a mean of `samples` readings: scatter of the mean (JCGM 100:2008 4.2.3, Student t) beside `common`, the U that all
/// readings share and averaging does not lessen. Same unit as `sd`. Infinite below two samples.
double mean_uncertainty(double sd, std::int64_t samples, double common);

/// U (95 %) of a value known only to lie within +-`half`: 95 % of a rectangle (JCGM 100:2008 4.3.7).
double rectangular_uncertainty(double half);

}  // namespace midstick::judge
