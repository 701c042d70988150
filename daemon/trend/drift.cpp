#include "daemon/trend/drift.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>

#include "daemon/statistics/line_fit.hpp"
#include "daemon/statistics/rates.hpp"
#include "daemon/statistics/run_length.hpp"
#include "daemon/statistics/self_starting.hpp"

namespace midstick::trend {
namespace {

constexpr double kNewestNight = 0.2;  // weight of the EWMA: about the last nine nights

struct Slope {
  double per_night{0}, u{0};  ///< standard uncertainty
  int dof{1};
};

/// Straight line through nights; its uncertainty not below what the floor allows.
std::optional<Slope> slope_of(std::span<const double> values, double sd_floor) {
  std::vector<double> night(values.size());
  std::iota(night.begin(), night.end(), 0.0);
  const auto line = statistics::fit_line(night, values);
  if (!line) return {};
  const auto n = static_cast<double>(values.size());
  const double spread = std::sqrt(n * (n * n - 1) / 12);
  return Slope{line->slope, std::max(line->residual_sd, sd_floor) / spread, line->dof};
}

std::optional<Drift> baseline_drift(std::span<const double> baseline, const ChartSetting& setting) {
  const auto slope = slope_of(baseline, setting.sd_floor);
  if (!slope || !(std::abs(slope->per_night) > 0)) return {};
  if (slope->u > 0 && std::abs(slope->per_night) < slope->u * statistics::student_t(slope->dof, 1 - setting.slope_risk)) return {};
  const double t = statistics::student_t95(slope->dof);
  const auto steps = static_cast<double>(baseline.size() - 1);
  return Drift{0, baseline.size() - 1, true, slope->per_night * steps, t * slope->u * steps, slope->per_night, t * slope->u};
}

Drift drift_of(std::span<const double> values, const ChartSetting& setting, const statistics::CusumAlarm& alarm) {
  Drift d{setting.baseline + alarm.began, setting.baseline + alarm.at, false, 0, 0, {}, 0};
  const auto before = values.first(d.began), since = values.subspan(d.began);
  const auto past = statistics::summarise(before), now = statistics::summarise(since);
  const double sd = std::max(past.sd, setting.sd_floor);
  d.size = now.mean - past.mean;
  d.u_size = statistics::student_t95(past.samples - 1) * sd *
             std::sqrt(1 / static_cast<double>(past.samples) + 1 / static_cast<double>(now.samples));
  const auto slope = slope_of(since, setting.sd_floor);
  if (!slope) return d;
  const double u = statistics::student_t95(slope->dof) * slope->u;
  if (std::abs(slope->per_night) > u) d.per_night = slope->per_night, d.u_per_night = u;
  return d;
}

/// Sums of the scores. Once one has alarmed, nothing more is learnt.
std::vector<statistics::CusumPoint> sums_of(std::span<const double> values, const ChartSetting& setting) {
  statistics::SelfStarting past(setting.sd_floor);
  std::vector<statistics::CusumPoint> sums;
  statistics::CusumPoint at;
  bool alarmed = false;
  for (std::size_t i = 0; i < values.size(); ++i) {
    if (i >= setting.baseline) {
      const double score = past.score(values[i]).value();
      at.high = std::max(0.0, at.high + score - setting.allowance);
      at.low = std::max(0.0, at.low - score - setting.allowance);
      sums.push_back(at);
      alarmed = alarmed || at.high > setting.decision || at.low > setting.decision;
    }
    if (!alarmed) past.learn(values[i]);
  }
  return sums;
}

}  // namespace

ChartSetting cautious_setting(const Caution& caution, std::size_t metrics, std::size_t baseline) {
  const double share = caution.risk / static_cast<double>(std::max<std::size_t>(metrics, 1)) / 2;
  ChartSetting s;
  s.baseline = std::max<std::size_t>(baseline, 5);
  s.decision = statistics::cusum_threshold(s.allowance, caution.nights, share);
  s.slope_risk = share;
  return s;
}

Chart chart(std::span<const double> values, const ChartSetting& setting) {
  Chart c;
  const auto baseline = values.first(std::min(setting.baseline, values.size()));
  c.baseline = statistics::summarise(baseline);
  c.sd = std::max(c.baseline.sd, setting.sd_floor);
  c.level = statistics::ewma(values, {c.baseline.mean, c.sd, kNewestNight, 3});
  c.judged = values.size() > setting.baseline;
  if (c.judged) {
    c.sums = sums_of(values, setting);
    const statistics::CusumPlan plan{0, setting.allowance, setting.decision};
    c.drift = baseline_drift(baseline, setting);
    if (const auto alarm = statistics::first_alarm(c.sums, plan); alarm && !c.drift) c.drift = drift_of(values, setting, *alarm);
  }
  c.lag1 = statistics::lag1_autocorrelation(c.drift && c.drift->began > 0 ? values.first(c.drift->began) : values);
  return c;
}

}  // namespace midstick::trend
