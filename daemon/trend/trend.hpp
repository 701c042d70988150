// A history judged: which metrics drift, and where a build differs from a baseline build. Pure function of the history.
//
// Every metric has its chart (drift.hpp); the chance of a false alarm is shared out over all of them. With a baseline build named, each
// metric of every other build of the same controller, plan and bench is compared with it by two rank tests with exact small-sample values.
// A build differs when a test says so at its share of the risk and the medians are further apart than one night's uncertainty: less is
// not worth a person's time. Differences of spread alone are shown, not flagged.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "daemon/statistics/compare.hpp"
#include "daemon/trend/drift.hpp"
#include "daemon/trend/history.hpp"

namespace midstick::trend {

struct Request {
  Caution caution;
  std::size_t baseline{14};            ///< nights, 5 or more
  std::string metric;                  ///< only metrics whose "check: measure" holds this text; empty: all
  std::optional<std::string> against;  ///< label of the baseline build
};

/// Where 95 % of all nights lie, with 95 % confidence, seen from the baseline nights (normal). Nothing for fewer than two.
struct ToleranceInterval {
  double low{0}, high{0};
};

struct MetricTrend {
  Metric metric;
  Chart chart;
  double sd_floor{0};
  std::optional<ToleranceInterval> tolerance;
};

struct Comparison {
  std::size_t baseline{0}, other{0};  ///< indices into Trend::metrics
  statistics::MannWhitney ranks;      ///< of the other build against the baseline: effect > 0 when it is larger
  statistics::KolmogorovSmirnov shape;
  double median_shift{0};  ///< the other's median minus the baseline's
  double resolution{0};    ///< one night's uncertainty; a smaller shift is not flagged
  std::size_t outside{0};  ///< nights of the other build outside the baseline's tolerance interval
  double least_p{0};       ///< smallest p that so few nights can give; where it is above `alpha` nothing can be told
  bool differs{false};
};

struct Trend {
  std::vector<MetricTrend> metrics;
  std::vector<Comparison> comparisons;
  std::vector<LeftOut> left_out;
  std::size_t runs{0};
  ChartSetting setting;  ///< without the floor, which is each metric's own
  Caution caution;       ///< as kept: never for fewer nights than there are
  double alpha{0};       ///< p below which a comparison counts: the risk shared out over both tests of all comparisons

  std::size_t drifting() const;
  std::size_t differing() const;
};

/// Error{usage} where the text fits no metric or the baseline build has no run.
Result<Trend> analyse(const History& history, const Request& request);

}  // namespace midstick::trend
