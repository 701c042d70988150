#include "daemon/trend/trend.hpp"

#include <algorithm>
#include <cmath>

#include "daemon/report/numbers.hpp"
#include "daemon/statistics/tolerance.hpp"

namespace midstick::trend {
namespace {

std::vector<double> values_of(const Metric& metric) {
  std::vector<double> values;
  for (const Night& n : metric.nights) values.push_back(n.value);
  return values;
}

/// Standard uncertainty of one night, at least the last digit that reports keep; a count is not known better than one.
double sd_floor(const Metric& metric) {
  std::vector<double> u;
  for (const Night& n : metric.nights) u.push_back(n.uncertainty / 2);
  const double least = metric.unit == "count" ? 1 : std::pow(10.0, -report::file_decimals(metric.unit));
  return std::max(least, statistics::summarise(u).median);
}

std::optional<ToleranceInterval> tolerance_of(const Chart& chart) {
  const auto n = static_cast<int>(chart.baseline.samples);
  const auto k = statistics::tolerance_factor(n, 0.95, 0.95);
  if (!k) return {};
  return ToleranceInterval{chart.baseline.mean - *k * chart.sd, chart.baseline.mean + *k * chart.sd};
}

MetricTrend trend_of(const Metric& metric, ChartSetting setting) {
  setting.sd_floor = sd_floor(metric);
  MetricTrend t{metric, chart(values_of(metric), setting), setting.sd_floor, {}};
  t.tolerance = tolerance_of(t.chart);
  return t;
}

bool same_but_build(const Metric& a, const Metric& b) {
  return a.build != b.build && a.controller == b.controller && a.plan == b.plan && a.bench == b.bench && a.check == b.check &&
         a.measure == b.measure && a.unit == b.unit;
}

/// Smallest two-sided p of n against m values: all of one above all of the other.
double least_p(std::size_t n, std::size_t m) {
  double ways = 1;
  for (std::size_t i = 1; i <= m; ++i) ways *= static_cast<double>(n + i) / static_cast<double>(i);
  return std::min(1.0, 2 / ways);
}

Comparison compared(const std::vector<MetricTrend>& all, std::size_t baseline, std::size_t other) {
  const auto base = values_of(all[baseline].metric), now = values_of(all[other].metric);
  Comparison c{baseline, other, {}, {}, 0, 0, 0, 1, false};
  c.ranks = statistics::mann_whitney(now, base).value();
  c.shape = statistics::kolmogorov_smirnov(now, base).value();
  c.median_shift = statistics::summarise(now).median - statistics::summarise(base).median;
  c.resolution = 2 * std::max(all[baseline].sd_floor, all[other].sd_floor);
  c.least_p = least_p(base.size(), now.size());
  const statistics::Summary b = statistics::summarise(base);
  if (const auto k = statistics::tolerance_factor(static_cast<int>(base.size()), 0.95, 0.95)) {
    const double half = *k * std::max(b.sd, all[baseline].sd_floor);
    c.outside = static_cast<std::size_t>(std::count_if(now.begin(), now.end(), [&](double v) { return std::abs(v - b.mean) > half; }));
  }
  return c;
}

void compare_builds(Trend& trend, const std::string& against) {
  for (std::size_t i = 0; i < trend.metrics.size(); ++i)
    for (std::size_t j = 0; j < trend.metrics.size(); ++j) {
      const Metric &base = trend.metrics[i].metric, &other = trend.metrics[j].metric;
      if (base.build != against || !same_but_build(base, other) || base.nights.empty() || other.nights.empty()) continue;
      trend.comparisons.push_back(compared(trend.metrics, i, j));
    }
  trend.alpha = trend.caution.risk / 2 / static_cast<double>(std::max<std::size_t>(trend.comparisons.size(), 1));
  for (Comparison& c : trend.comparisons)
    c.differs = std::min(c.ranks.p, c.shape.p) <= trend.alpha && std::abs(c.median_shift) > c.resolution;
}

}  // namespace

std::size_t Trend::drifting() const {
  return static_cast<std::size_t>(std::count_if(metrics.begin(), metrics.end(), [](const auto& m) { return m.chart.drift.has_value(); }));
}

std::size_t Trend::differing() const {
  return static_cast<std::size_t>(std::count_if(comparisons.begin(), comparisons.end(), [](const auto& c) { return c.differs; }));
}

Result<Trend> analyse(const History& history, const Request& request) {
  std::vector<Metric> wanted;
  for (const Metric& m : history.metrics)
    if (request.metric.empty() || m.name().find(request.metric) != std::string::npos) wanted.push_back(m);
  if (wanted.empty())
    return Error{ErrorKind::usage, request.metric.empty() ? "no run that can be used: every one was left out"
                                                          : "--metric \"" + request.metric + "\": no metric's name holds this text"};
  const auto is_baseline = [&](const Metric& m) { return request.against && m.build == *request.against; };
  if (request.against && std::none_of(wanted.begin(), wanted.end(), is_baseline))
    return Error{ErrorKind::usage, "--baseline \"" + *request.against + "\": no run of this build"};

  Trend trend;
  trend.left_out = history.left_out;
  trend.runs = history.runs;
  trend.caution = request.caution;
  std::size_t judged = 0;
  for (const Metric& m : wanted) {
    if (m.nights.size() <= request.baseline) continue;
    ++judged;
    trend.caution.nights = std::max(trend.caution.nights, static_cast<int>(m.nights.size() - request.baseline));
  }
  trend.setting = cautious_setting(trend.caution, judged, request.baseline);
  for (const Metric& m : wanted) trend.metrics.push_back(trend_of(m, trend.setting));
  if (request.against) compare_builds(trend, *request.against);
  return trend;
}

}  // namespace midstick::trend
