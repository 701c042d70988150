#include "daemon/judge/uncertainty.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "daemon/statistics/rates.hpp"

namespace midstick::judge {
namespace {

constexpr double kCoverage = 2.0;    // JCGM 100:2008 6.3.3
constexpr double kNormal95 = 1.96;   // half width of a 95 % normal interval in standard deviations
constexpr double kStampFloor = 0.5;  // ticks

double stamp_us(const clock::ClockMap& clock, std::uint16_t half) {
  return std::max(kStampFloor, static_cast<double>(half)) * clock.ns_per_tick / 1e3 / std::sqrt(3.0);
}

}  // namespace

double span_uncertainty_us(const clock::ClockMap& clock, BoardSpan span, std::uint16_t begin_half, std::uint16_t end_half) {
  const double rate = clock.rate_uncertainty_us(span) / kNormal95;
  return kCoverage * std::hypot(rate, stamp_us(clock, begin_half), stamp_us(clock, end_half));
}

double mean_uncertainty(double sd, std::int64_t samples, double common) {
  if (samples < 2) return std::numeric_limits<double>::infinity();
  return std::hypot(statistics::student_t95(samples - 1) * sd / std::sqrt(static_cast<double>(samples)), common);
}

double rectangular_uncertainty(double half) { return kCoverage * half / std::sqrt(3.0); }

}  // namespace midstick::judge
