#include "daemon/judge/uncertainty.hpp"

#include <cmath>
#include <limits>
#include <map>
#include <tuple>
#include <vector>

#include "daemon/statistics/rates.hpp"
#include "daemon/statistics/span_error.hpp"

namespace midstick::judge {
namespace {

constexpr double kSynchroniser = 4;     // ticks, see the header
constexpr std::uint16_t kCaptured = 1;  // half width of an input capture stamp

using Delays = std::vector<capture::DelayCount>;
using statistics::EndError;

/// The clock's part, ticks, rounded up to 1/64 of its power of two, so that spans of nearly the same length share one answer.
double rounded_up(double sd) {
  constexpr double kSteps = 64;
  if (sd <= 1 / kSteps) return sd > 0 ? 1 / kSteps : 0;
  int exponent = 0;
  const double mantissa = std::frexp(sd, &exponent);
  return std::ldexp(std::ceil(mantissa * 2 * kSteps) / (2 * kSteps), exponent);
}

EndError error_of(std::uint16_t half, double synchroniser, std::uint16_t lone_half, const Delays& lone) {
  if (half == kCommanded) return {{0, 0}};
  if (half <= kCaptured) return {{0, 1 + synchroniser}};
  if (half != lone_half || lone.empty()) return {{-double(half), double(half + 1)}};
  EndError measured;
  for (const auto& d : lone) measured.push_back({double(d.ticks), double(d.ticks + 1), double(d.count)});
  return measured;
}

/// Answers already found, for one distribution of delays at a time. Only saves work: the same question has the same answer without it.
class Answers {
 public:
  double ticks(std::uint16_t begin, std::uint16_t end, double synchroniser, double sd, std::uint16_t lone_half, const Delays& lone) {
    if (lone_half != lone_half_ || lone != lone_) found_.clear(), lone_half_ = lone_half, lone_ = lone;
    if (found_.size() > kMost) found_.clear();
    const auto [at, fresh] = found_.try_emplace({begin, end, synchroniser, sd}, 0.0);
    if (fresh)
      at->second = statistics::half_width(error_of(begin, synchroniser, lone_half, lone), error_of(end, synchroniser, lone_half, lone), sd);
    return at->second;
  }

 private:
  static constexpr std::size_t kMost = 10'000;
  std::map<std::tuple<std::uint16_t, std::uint16_t, double, double>, double> found_;
  std::uint16_t lone_half_{0};
  Delays lone_;
};

}  // namespace

double span_uncertainty_us(const capture::Capture& capture, BoardSpan span, std::uint16_t begin_half, std::uint16_t end_half) {
  static const Delays none;
  thread_local Answers answers;
  const auto& calibration = capture.calibration;
  const double tick_us = capture.clock.ns_per_tick / 1e3;
  const double sd = rounded_up(capture.clock.rate_standard_us(span) / tick_us);
  const bool one_commanded = (begin_half == kCommanded) != (end_half == kCommanded);
  const double synchroniser = one_commanded && !calibration ? kSynchroniser : 0;
  return tick_us * answers.ticks(begin_half, end_half, synchroniser, sd, calibration ? calibration->lone_half : std::uint16_t{0},
                                 calibration ? calibration->pin_change : none);
}

double mean_uncertainty(double sd, std::int64_t samples, double common) {
  if (samples < 2) return std::numeric_limits<double>::infinity();
  return std::hypot(statistics::student_t95(samples - 1) * sd / std::sqrt(static_cast<double>(samples)), common);
}

double rectangular_uncertainty(double half) { return 0.95 * half; }

}  // namespace midstick::judge
