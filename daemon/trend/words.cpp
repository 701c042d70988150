#include "daemon/trend/words.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "daemon/report/numbers.hpp"

namespace midstick::trend {
namespace {

std::string signed_text(double value, double u95, const std::string& unit) { return (value > 0 ? "+" : "") + value_text(value, u95, unit); }

std::size_t judged(const Trend& trend) {
  return static_cast<std::size_t>(std::count_if(trend.metrics.begin(), trend.metrics.end(), [](const auto& m) { return m.chart.judged; }));
}

}  // namespace

std::string value_text(double value, double u95, const std::string& unit) {
  judge::Measure m;
  m.measured = value, m.uncertainty = u95, m.unit = unit;
  return report::measured_text(m);
}

std::string shift_text(double value, const std::string& unit) {
  const std::string symbol = report::unit_symbol(unit);
  return fmt::format("{:+.3g}", value) + (symbol.empty() ? "" : " " + symbol);
}

std::string night_text(const Metric& metric, std::size_t night) {
  return fmt::format("night {}, {}", night + 1, metric.nights.at(night).started.substr(0, 10));
}

std::string drift_sentence(const MetricTrend& t) {
  if (!t.chart.drift) return "";
  const Drift& d = *t.chart.drift;
  const auto& unit = t.metric.unit;
  const char* way = d.size > 0 ? "rise" : "fall";
  if (d.in_baseline)
    return fmt::format("{} {}s from the first night on: {} over the {} baseline nights, {} a night; no reference can be taken from them",
                       t.metric.name(), way, signed_text(d.size, d.u_size, unit), d.flagged + 1,
                       signed_text(*d.per_night, d.u_per_night, unit));
  std::string text = fmt::format("{} began to {} about {}: {} on average since", t.metric.name(), way, night_text(t.metric, d.began),
                                 signed_text(d.size, d.u_size, unit));
  if (d.per_night) text += ", " + signed_text(*d.per_night, d.u_per_night, unit) + " a night";
  return text + "; flagged " + night_text(t.metric, d.flagged);
}

std::string state_word(const MetricTrend& t, const ChartSetting& setting) {
  if (t.metric.nights.empty()) return "not measured";
  if (!t.chart.judged) return fmt::format("too few nights ({}, from {} on)", t.metric.nights.size(), setting.baseline + 1);
  return t.chart.drift ? "drifts" : "steady";
}

std::string comparison_sentence(const Trend& trend, const Comparison& c) {
  const Metric &base = trend.metrics[c.baseline].metric, &other = trend.metrics[c.other].metric;
  std::string text =
      fmt::format("{}, build {} against {}: median moved by {}, effect {:+.2f}, p {:.2g} (ranks) and {:.2g} (shape)", other.name(),
                  other.build, base.build, shift_text(c.median_shift, other.unit), c.ranks.effect, c.ranks.p, c.shape.p);
  if (c.outside > 0) text += fmt::format("; {} of {} nights outside the baseline's tolerance interval", c.outside, other.nights.size());
  if (c.differs) return text + ": differs";
  return text + (c.least_p > trend.alpha ? ": too few nights to tell" : ": no difference shown");
}

std::string series_text(const Metric& m) {
  return fmt::format("{}, build {}, plan {}, {} bench", m.controller.empty() ? "unnamed controller" : m.controller,
                     m.build.empty() ? "not named" : m.build, m.plan, m.bench);
}

std::string verdict_sentence(const Trend& trend) {
  const std::size_t seen = judged(trend), unseen = trend.metrics.size() - seen;
  std::string text;
  if (seen == 0)
    text = fmt::format("Too few nights: a metric is judged from {} on.", trend.setting.baseline + 1);
  else if (trend.drifting() == 0)
    text = fmt::format("No drift in {} metric{}.", seen, seen == 1 ? "" : "s");
  else
    text = fmt::format("{} of {} metric{} drift.", trend.drifting(), seen, seen == 1 ? "" : "s");
  if (seen > 0 && unseen > 0) text += fmt::format(" {} more could not be judged: too few nights.", unseen);
  if (!trend.comparisons.empty())
    text += fmt::format(" {} of {} comparisons with the baseline build differ.", trend.differing(), trend.comparisons.size());
  if (!trend.left_out.empty()) text += fmt::format(" {} run{} left out.", trend.left_out.size(), trend.left_out.size() == 1 ? "" : "s");
  return text;
}

int exit_code(const Trend& trend) {
  if (trend.drifting() + trend.differing() > 0) return 1;
  const bool told =
      std::any_of(trend.comparisons.begin(), trend.comparisons.end(), [&](const Comparison& c) { return c.least_p <= trend.alpha; });
  return judged(trend) > 0 || told ? 0 : 2;
}

}  // namespace midstick::trend
