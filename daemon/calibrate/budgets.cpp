#include "daemon/calibrate/budgets.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "daemon/judge/uncertainty.hpp"

namespace midstick::calibrate {
namespace {

using statistics::BudgetRow;
using statistics::Distribution;
using statistics::Evaluation;

constexpr double kSure = std::numeric_limits<double>::infinity();  // degrees of freedom of a bound
constexpr double kWidthUs = 1500, kPeriodUs = 20'000, kLatencyUs = 20'000;

BudgetRow scatter(const std::string& source, const statistics::Summary& s, double sensitivity) {
  const double n = static_cast<double>(std::max<std::int64_t>(s.samples, 2));
  return {source, Evaluation::type_a, Distribution::normal, s.sd * kNsPerTick / std::sqrt(n), sensitivity, n - 1, "ns"};
}

BudgetRow rate(const clock::ClockMap& clock, double span_us) {
  return {"rate of the board's clock", Evaluation::type_b, Distribution::normal, clock.standard_ppm(), span_us / 1e3, kSure, "ppm"};
}

/// Of an edge that asks no tick's leave, the stamp shows only the tick that follows.
BudgetRow phase(const std::string& edge, double sensitivity) {
  return {edge + ": phase in its tick", Evaluation::type_b, Distribution::rectangular, kNsPerTick / 2, sensitivity, kSure, "ns"};
}
/// A single stamp: half a tick late in the mean, which is not corrected, so the whole tick counts.
BudgetRow whole_tick(const std::string& edge) {
  return {edge + ": phase in its tick, mean left in", Evaluation::type_b, Distribution::rectangular, kNsPerTick, 1, kSure, "ns"};
}

struct Moments {
  double sd{0};
  std::int64_t samples{0};
};
Moments spread_of(const std::vector<capture::DelayCount>& delays) {
  double sum = 0, square = 0;
  Moments m;
  for (const auto& d : delays)
    m.samples += d.count, sum += double(d.ticks) * double(d.count), square += double(d.ticks) * d.ticks * double(d.count);
  if (m.samples < 2) return m;
  const auto n = static_cast<double>(m.samples);
  m.sd = std::sqrt(std::max(0.0, (square - sum * sum / n) / (n - 1)));
  return m;
}

/// Delay of a lone pin change: as measured, else the board's bound.
BudgetRow delay(const capture::Calibration& c, const std::string& edge, double sensitivity) {
  if (c.pin_change.empty())
    return {
        edge + ": delay, board's bound", Evaluation::type_b, Distribution::rectangular, c.lone_half * kNsPerTick, sensitivity, kSure, "ns"};
  const Moments m = spread_of(c.pin_change);
  return {
      edge + ": delay, measured", Evaluation::type_a, Distribution::normal, m.sd * kNsPerTick, sensitivity, double(m.samples - 1), "ns"};
}

BudgetRow rest_of_offset() {
  return {"offset: corrected to whole ticks", Evaluation::type_b, Distribution::rectangular, kNsPerTick / 2, 1, kSure, "ns"};
}

}  // namespace

statistics::Budget offset_budget(const statistics::Summary& late) {
  return statistics::combine({scatter("scatter of the readings", late, 1),
                              {"part of a tick", Evaluation::type_b, Distribution::rectangular, kNsPerTick / 2, 1, kSure, "ns"}});
}

statistics::Budget difference_budget(const statistics::Summary& rise, const statistics::Summary& fall) {
  return statistics::combine({scatter("scatter of rises", rise, -1),
                              scatter("scatter of falls", fall, 1),
                              {"part of a tick, rise", Evaluation::type_b, Distribution::rectangular, kNsPerTick / 2, -1, kSure, "ns"},
                              {"part of a tick, fall", Evaluation::type_b, Distribution::rectangular, kNsPerTick / 2, 1, kSure, "ns"}});
}

std::vector<BudgetOf> budgets(const capture::Calibration& c, const clock::ClockMap& clock) {
  capture::Capture capture;
  capture.clock = clock;
  capture.calibration = c;
  const auto judged = [&](double us, std::uint16_t begin, std::uint16_t end) {
    return 1e3 * judge::span_uncertainty_us(capture, clock.ticks(script_us(static_cast<std::int64_t>(us))), begin, end);
  };
  const auto one = [](std::string quantity, std::vector<BudgetRow> rows, double judged_ns) {
    return BudgetOf{std::move(quantity), statistics::combine(std::move(rows)), judged_ns};
  };
  const std::uint16_t lone = c.lone_half;
  return {
      one("one width of 1500 us on R1, R2", {phase("rise", -1), phase("fall", 1), rate(clock, kWidthUs)}, judged(kWidthUs, 1, 1)),
      one("one width of 1500 us on P1 to P6, alone",
          {delay(c, "rise", -1), phase("rise", -1), delay(c, "fall", 1), phase("fall", 1), rate(clock, kWidthUs)},
          judged(kWidthUs, lone, lone)),
      one("one period of 20 ms on R1, R2", {phase("first rise", -1), phase("second rise", 1), rate(clock, kPeriodUs)},
          judged(kPeriodUs, 1, 1)),
      one("one latency of 20 ms to R1, R2", {whole_tick("response"), rest_of_offset(), rate(clock, kLatencyUs)},
          judged(kLatencyUs, judge::kCommanded, 1)),
      one("one latency of 20 ms to P1 to P6, alone",
          {delay(c, "response", 1), whole_tick("response"), rest_of_offset(), rate(clock, kLatencyUs)},
          judged(kLatencyUs, judge::kCommanded, lone)),
  };
}

}  // namespace midstick::calibrate
