#include "daemon/trend/trend_table.hpp"

#include <algorithm>

#include "daemon/report/list.hpp"
#include "daemon/trend/words.hpp"

namespace midstick::trend {
namespace {

using report::coloured;
using report::columns;
using report::fit;
using report::shown;
using report::TerminalStyle;
using report::wrapped;

judge::Verdict as_verdict(const MetricTrend& t) {
  if (!t.chart.judged) return judge::Verdict::inconclusive;
  return t.chart.drift ? judge::Verdict::fail : judge::Verdict::pass;
}

bool same_series(const Metric& a, const Metric& b) {
  return a.controller == b.controller && a.build == b.build && a.plan == b.plan && a.bench == b.bench;
}

struct Row {
  std::string name, nights, value, state;
  judge::Verdict verdict;
};

Row row_of(const MetricTrend& t, const TerminalStyle& style) {
  const std::string value = t.metric.nights.empty() ? "" : value_text(t.chart.baseline.mean, 2 * t.chart.sd, t.metric.unit);
  return {shown(t.metric.name(), style), std::to_string(t.metric.nights.size()), shown(value, style),
          !t.chart.judged ? "too few"
          : t.chart.drift ? "DRIFTS"
                          : "steady",
          as_verdict(t)};
}

struct Widths {
  int name{0}, nights{0}, value{0};
};

Widths widths_of(const std::vector<Row>& rows) {
  Widths w;
  for (const Row& r : rows)
    w = {std::max(w.name, columns(r.name)), std::max(w.nights, columns(r.nights)), std::max(w.value, columns(r.value))};
  return w;
}

/// No name and no unit is cut: a name that leaves too little room for the numbers has them on a line of their own below it.
std::string text_of(const Row& r, const Widths& w, const TerminalStyle& style) {
  constexpr int kState = 7;  // "too few"
  const std::string numbers = fit(r.nights, w.nights, style) + "  " + fit(r.value, w.value, style) + "  ";
  const std::string state = coloured(r.state, r.verdict, style);
  const int taken = columns(numbers) + kState;
  if (!style.cut || w.name + 2 + taken <= style.width) return fit(r.name, w.name, style) + "  " + numbers + state + "\n";
  std::string out;
  for (const auto& line : wrapped(r.name, style.width, style)) out += line + "\n";
  if (2 + taken <= style.width) return out + "  " + numbers + state + "\n";
  for (const auto& line : wrapped(r.nights + "  " + r.value, style.width - 2, style)) out += "  " + line + "\n";
  return out + "  " + state + "\n";
}

}  // namespace

std::string trend_table(const Trend& trend, const TerminalStyle& style) {
  std::string out;
  const Metric* last = nullptr;
  std::vector<Row> rows;
  for (const MetricTrend& t : trend.metrics) rows.push_back(row_of(t, style));
  const Widths widths = widths_of(rows);
  for (std::size_t i = 0; i < rows.size(); ++i) {
    const MetricTrend& t = trend.metrics[i];
    if (!last || !same_series(*last, t.metric)) out += std::string(last ? "\n" : "") + shown(series_text(t.metric), style) + "\n";
    last = &t.metric;
    out += text_of(rows[i], widths, style);
  }
  out += shown("(metric, nights, mean of the baseline nights ± two standard deviations of a night, state)", style) + "\n\n";
  for (const MetricTrend& t : trend.metrics)
    if (t.chart.drift) out += shown("DRIFT: " + drift_sentence(t), style) + "\n";
  for (const Comparison& c : trend.comparisons) out += shown((c.differs ? "DIFFERS: " : "") + comparison_sentence(trend, c), style) + "\n";
  for (const LeftOut& l : trend.left_out) out += shown("left out: " + l.folder.string() + ": " + l.why, style) + "\n";
  return out + shown(verdict_sentence(trend), style) + "\n";
}

}  // namespace midstick::trend
