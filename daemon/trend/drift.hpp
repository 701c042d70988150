// Has a series of nights left its own past, and since when? One metric's values in, chart and drift out. Pure functions.
//
// A self-starting CUSUM (statistics/self_starting.hpp): the first `baseline` nights only teach, every later night is scored against all
// before it, and the scores' two sums alarm beyond `decision`. Why so: with a mean and sigma merely estimated from 14 nights a plain CUSUM
// of the same decision value alarms falsely about ten times as often; these scores are exactly standard normal however few nights taught
// them, so the decision value can be computed for a wanted risk and holds. After an alarm the reference stands still, so that the
// drift does not become normal. A straight line through the baseline nights catches a drift that was there from the first night.
// Assumes nights that are independent and about normal: `lag1` far from 0 says that they are not, and then alarms come more often.
// It finds that a value moved, not why: a bench that aged looks the same.
#pragma once

#include <cstddef>
#include <optional>
#include <span>
#include <vector>

#include "daemon/statistics/control_chart.hpp"
#include "daemon/statistics/summary.hpp"

namespace midstick::trend {

/// How long a history must not alarm falsely, over everything that is looked at together.
struct Caution {
  double risk{0.01};  ///< chance of any false alarm, in (0, 1)
  int nights{300};    ///< within so many nights after the baseline
};

struct ChartSetting {
  std::size_t baseline{14};  ///< nights that only teach, 5 or more; two weeks, so that each day of a week counts twice
  double allowance{0.5};     ///< "k" of the CUSUM in standard deviations: half the shift it finds best
  double decision{0};        ///< "h" in standard deviations: from decision_for()
  double slope_risk{0};      ///< chance of a false alarm from the baseline's slope, in (0, 1): from decision_for()
  double sd_floor{0};        ///< unit of the values: what one night's value is not known better than
};

/// Setting whose metrics together keep the caution: each gets its share, half of it for the chart and half for the baseline's slope.
ChartSetting cautious_setting(const Caution& caution, std::size_t metrics, std::size_t baseline = 14);

struct Drift {
  std::size_t began{0};             ///< night it began (index from 0): the night after the sum last was 0
  std::size_t flagged{0};           ///< night that raised the alarm
  bool in_baseline{false};          ///< the baseline nights themselves slope; then began is 0
  double size{0}, u_size{0};        ///< mean since it began minus mean before (in the baseline: slope times its nights); 95 % half width
  std::optional<double> per_night;  ///< slope since it began, where it is clear of 0
  double u_per_night{0};            ///< 95 % half width
};

struct Chart {
  statistics::Summary baseline;              ///< of the baseline nights; of all there are when they are too few
  double sd{0};                              ///< of the baseline nights, not below the floor
  double lag1{0};                            ///< autocorrelation of all nights before a drift began
  std::vector<statistics::CusumPoint> sums;  ///< in standard deviations, from the first night after the baseline
  std::vector<statistics::EwmaPoint> level;  ///< weighted mean of all nights in the metric's own unit, for the eye: it raises no alarm
  std::optional<Drift> drift;
  bool judged{false};  ///< enough nights: at least one after the baseline
};

/// `values` by night, finite.
Chart chart(std::span<const double> values, const ChartSetting& setting);

}  // namespace midstick::trend
