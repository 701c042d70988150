// From clock exchanges to a ClockMap: how fast the board's clock runs in host time, and how sure that is.
//
// Two ways at once. A least squares line through the middles of the exchanges, each weighted by how short its round trip was, gives the
// rate. The bounds of the exchanges (an answer cannot arrive before it was sent) leave only a corridor of lines: it caps the uncertainty,
// and when no line fits at all, something is wrong: the rate changed, the board restarted, or a stamp is false. Then the fit starts afresh
// from the newest sample and the state is `suspect` until it has locked again. Pure: no clock of its own, no threads, cannot fail. Host ns,
// board ticks, ns per tick.
#pragma once

#include <cstdint>
#include <vector>

#include "daemon/clock/clock_map.hpp"
#include "daemon/clock/clock_sample.hpp"

namespace midstick::clock {

enum class ClockState {
  acquiring,  ///< not yet good enough to begin a run
  locked,     ///< uncertainty at or under target
  suspect,    ///< bounds contradicted each other; not locked again since
  lost        ///< nothing heard for too long
};

struct EstimatorSettings {
  double target_ppm = 100;  ///< locked at or under this uncertainty (95 %)
  int least_samples = 16;   ///< and not with fewer samples
  HostSpan lost_after = host_ms(10'000);
  double widest_ppm = 10'000;  ///< rates further than this from nominal are not considered
  double coverage = 3;         ///< standard errors in the published half width: residuals are not normal, so more than 1.96
  double floor_ns = 2'000;     ///< round trips are not told apart below this
  double tolerance_ns = 500;   ///< contradiction that quantised stamps may cause
};

/// ns per board tick.
struct RateBounds {
  double low{0}, high{0};
};

class ClockEstimator {
 public:
  explicit ClockEstimator(std::uint32_t boot_id = 0, EstimatorSettings settings = {}) : settings_(settings), boot_id_(boot_id) {}

  void add(const ClockSample& sample);
  /// Nominal rate with 5000 ppm uncertainty until there are enough samples.
  const ClockMap& map() const { return map_; }
  ClockState state(HostTime now) const;
  /// More exchanges are needed before the map is good enough.
  bool needs_more() const { return !good(); }
  /// What the exchanges' bounds alone allow.
  RateBounds bounds() const { return bounds_; }
  /// How often the bounds contradicted each other since the beginning.
  int suspicions() const { return suspicions_; }
  /// Pause before the next query: `base` stretched by 0 to 100 %, never in step with anything periodic on the path.
  HostSpan next_query_after(HostSpan base) const;

 private:
  static constexpr std::size_t kKept = 256;

  struct Point {             // relative to origin_, so that doubles are exact enough
    double received, sent;   // ticks
    double asked, answered;  // ns
    double middle_tick, middle_ns, half_ns, weight;
  };
  struct Line {
    double rate, at_zero;  // ns = at_zero + rate * ticks
    double rate_error;     // one standard error
  };

  bool good() const;
  Point point(const ClockSample& sample) const;
  double slack(double rate) const;
  double roomiest_rate() const;
  RateBounds possible_rates(double inside) const;
  Line fit() const;
  void take(const ClockSample& sample);
  void restart(const ClockSample& sample);
  void refit(double roomiest);
  void thin();
  static Point merged(const Point& a, const Point& b);

  EstimatorSettings settings_;
  std::uint32_t boot_id_;
  ClockSample origin_{};
  std::vector<Point> line_, corridor_;  // always the same number
  ClockMap map_;
  RateBounds bounds_{ClockMap::kNominalNsPerTick * 0.99, ClockMap::kNominalNsPerTick * 1.01};
  bool suspect_{false};
  int suspicions_{0};
  int taken_{0};   // ever
  int in_fit_{0};  // since the last restart of the fit
  int per_point_{1}, in_newest_{0};
  HostTime last_{};
};

}  // namespace midstick::clock
