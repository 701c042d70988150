// The one place where a span of the capture gets its uncertainty. Everything is 95 % expanded, U = k u with k = 2.
//
// A span between two stamped edges is wrong by the clock map's rate (given as a 95 % half width, so u = U / 1.96) and by what is not
// known about each stamp: the true edge lies within +- half_width ticks of it, nothing more is known, so the distribution is
// rectangular, u = a / sqrt(3) (JCGM 100:2008 4.3.7). A stamp is never better than half a tick. The parts are independent:
// u^2 is their sum (5.1.2), k = 2 (6.2, 6.3.3). Pure arithmetic; cannot fail.
#pragma once

#include <cstdint>

#include "daemon/clock/clock_map.hpp"
#include "daemon/core/time.hpp"

namespace midstick::judge {

/// U (95 %) in us of the true length of `span` between edges stamped within +-`begin_half` and +-`end_half` ticks.
double span_uncertainty_us(const clock::ClockMap& clock, BoardSpan span, std::uint16_t begin_half, std::uint16_t end_half);

/// U (95 %) of a mean of `samples` readings: scatter of the mean (JCGM 100:2008 4.2.3, Student t) beside `common`, the U that all
/// readings share and averaging does not lessen. Same unit as `sd`. Infinite below two samples.
double mean_uncertainty(double sd, std::int64_t samples, double common);

/// U (95 %) of a value known only to lie within +-`half`.
double rectangular_uncertainty(double half);

}  // namespace midstick::judge
