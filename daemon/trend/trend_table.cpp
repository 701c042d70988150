#include "daemon/trend/trend_table.hpp"

#include <algorithm>

#include "daemon/trend/words.hpp"

namespace midstick::trend {
namespace {

using report::coloured;
using report::fit;
using report::shown;
using report::TerminalStyle;

judge::Verdict as_verdict(const MetricTrend& t) {
  if (!t.chart.judged) return judge::Verdict::inconclusive;
  return t.chart.drift ? judge::Verdict::fail : judge::Verdict::pass;
}

bool same_series(const Metric& a, const Metric& b) {
  return a.controller == b.controller && a.build == b.build && a.plan == b.plan && a.bench == b.bench;
}

std::string row(const MetricTrend& t, const TerminalStyle& style) {
  constexpr int kNights = 6, kValue = 18, kState = 8, kGaps = 3;
  const auto cell = [&](const std::string& text, int width) { return fit(shown(text, style), width, style); };
  const std::string value = t.metric.nights.empty() ? "" : value_text(t.chart.baseline.mean, 2 * t.chart.sd, t.metric.unit);
  const char* state = !t.chart.judged ? "too few" : t.chart.drift ? "DRIFTS" : "steady";
  return cell(t.metric.name(), std::max(10, style.width - kNights - kValue - kState - kGaps)) + " " +
         cell(std::to_string(t.metric.nights.size()), kNights) + " " + cell(value, kValue) + " " +
         coloured(cell(state, kState), as_verdict(t), style) + "\n";
}

}  // namespace

std::string trend_table(const Trend& trend, const TerminalStyle& style) {
  std::string out;
  const Metric* last = nullptr;
  for (const MetricTrend& t : trend.metrics) {
    if (!last || !same_series(*last, t.metric)) out += std::string(last ? "\n" : "") + shown(series_text(t.metric), style) + "\n";
    last = &t.metric;
    out += row(t, style);
  }
  out += shown("(metric, nights, mean of the baseline nights ± two standard deviations of a night, state)", style) + "\n\n";
  for (const MetricTrend& t : trend.metrics)
    if (t.chart.drift) out += shown("DRIFT: " + drift_sentence(t), style) + "\n";
  for (const Comparison& c : trend.comparisons) out += shown((c.differs ? "DIFFERS: " : "") + comparison_sentence(trend, c), style) + "\n";
  for (const LeftOut& l : trend.left_out) out += shown("left out: " + l.folder.string() + ": " + l.why, style) + "\n";
  return out + shown(verdict_sentence(trend), style) + "\n";
}

}  // namespace midstick::trend
