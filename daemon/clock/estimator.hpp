// From clock exchanges to a ClockMap: how fast the board's clock runs in host time, and how sure that is.
//
// Each exchange bounds the line ns(tick) from both sides: the question cannot be at the board before it was asked, the answer not here
// before it left (clock_sample.hpp). Over a sliding window of 30 s:
// - All lines that fit between the bounds give a hard interval: certain, no statistics, as long as the rate moves by no more than
//   `drift_ppm_per_s`: the bounds are loosened by what such a drift can do, D t^2 / 2 from the window's middle.
// - Least squares through the middles of the exchanges, weighted by round trip, gives the rate within that interval and says how sure it is
//   (rate_fit.hpp).
// - The line with the largest slack between all bounds checks it. It leans on the quickest exchanges of each direction alone, so what
//   makes the way there and the way back unequal on average does not pull it. It does not give the rate: after 30 s over USB slots it is
//   off by 2.8 ppm RMS, least squares by 1.2 (behind an adapter's 16 ms timer 3 and 20; the scenes of the tests print both).
// Published: half width of the interval, in ppm, that holds the rate at *every* instant of the window and until the next fit. 95 % by name:
// three standard errors of the least squares and what drift may add, never wider than the hard interval, never narrower than half
// the difference between the two methods. Sign: ppm > 0, the board runs fast.
//
// When no line fits (negative slack), or the fitted drift is surely more than a sound board can, the rate stepped, the board restarted or a
// stamp is false. Nothing is averaged over that: the window and the map of the whole begin afresh from the newest sample, and the state is
// `suspect` until locked again. Pure: no clock of its own, no threads, cannot fail. Host ns, board ticks, ns per tick.
#pragma once

#include <cstdint>
#include <deque>
#include <optional>
#include <vector>

#include "daemon/clock/clock_facts.hpp"
#include "daemon/clock/clock_map.hpp"
#include "daemon/clock/clock_sample.hpp"
#include "daemon/clock/corridor.hpp"
#include "daemon/clock/rate_fit.hpp"

namespace midstick::clock {

struct EstimatorSettings {
  double target_ppm = 100;  ///< locked at or under this uncertainty (95 %)
  int least_samples = 16;   ///< and not with fewer samples
  HostSpan window = host_ms(30'000);
  /// A sound board's rate moves no faster: a ceramic resonator that warms up moves by some tenths of this (common practice, no source).
  double drift_ppm_per_s = 1;
  HostSpan lost_after = host_ms(10'000);
  double widest_ppm = 10'000;  ///< rates further than this from nominal are not considered
  double coverage = 3;         ///< standard errors in the published half width: residuals are not normal, so more than 1.96
  double drift_proof = 6;      ///< standard errors by which the fitted drift must exceed `drift_ppm_per_s` to be a contradiction
  double floor_ns = 2'000;     ///< round trips are not told apart below this
  double tolerance_ns = 500;   ///< contradiction that quantised stamps may cause
};

class ClockEstimator {
 public:
  explicit ClockEstimator(std::uint32_t boot_id = 0, EstimatorSettings settings = {});

  /// An exchange already added (the board's stamps repeat) says nothing new and is dropped.
  void add(const ClockSample& sample);
  /// Of the window. Nominal rate with 5000 ppm uncertainty until there are enough samples.
  const ClockMap& map() const { return map_; }
  /// Of everything since the beginning, or since the last contradiction: one rate, with an uncertainty that holds the rate at every instant
  /// of it. A board that warms up makes it wider, not wrong.
  ClockMap whole_map() const;
  ClockState state(HostTime now) const;
  /// More exchanges are needed before the map is good enough.
  bool needs_more() const { return !good(); }
  /// What the exchanges' bounds alone allow for the rate at any instant of the window, given the limit on drift.
  RateBounds bounds() const { return bounds_; }
  /// The same for every instant that whole_map() speaks of.
  RateBounds whole_bounds() const;
  /// Largest slack minus least squares, ppm; nothing before there are enough samples.
  std::optional<double> cross_check_ppm() const { return cross_check_ppm_; }
  /// How often the bounds contradicted each other since the beginning.
  int suspicions() const { return suspicions_; }
  /// What the host's clock is, only the caller knows.
  ClockFacts facts(HostTime now, const HostClock& host) const;
  /// Pause before the next query: `base` stretched by 0 to 100 %, never in step with anything periodic on the path.
  HostSpan next_query_after(HostSpan base) const;

 private:
  /// What was heard, around the middle of the window as it was at the last fit: doubles are exact enough for a window, not for days.
  struct Window {
    std::deque<ClockSample> samples;
    BoardTime board_middle{};
    HostTime host_middle{};
    double half_span_ticks{0}, half_span_s{0};
    Corridor corridor;
    std::vector<FitPoint> points;
  };

  bool good() const;
  bool take(const ClockSample& sample);
  void restart(const ClockSample& sample);
  void forget_old();
  void set_around_middle();
  void lay_out(const ClockSample& sample);
  bool drifts_too_fast() const;
  void refit();
  void publish(double rate, double uncertainty_ppm);
  void tile();

  EstimatorSettings settings_;
  std::uint32_t boot_id_;
  Window window_;
  ClockMap map_;
  RateBounds widest_, bounds_;
  std::optional<double> cross_check_ppm_;
  std::optional<RateBounds> tiled_, tiled_bounds_;  // what windows laid end to end said, up to tiled_to_
  HostTime tiled_to_{}, fitted_to_{};
  int samples_{0};    // since the last restart of the fit
  int since_fit_{0};  // samples the map does not know yet
  bool suspect_{false};
  int suspicions_{0};
  int taken_{0};  // ever
  HostTime last_{};
};

}  // namespace midstick::clock
