#include "daemon/trend/trend_html.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "daemon/report/html_parts.hpp"
#include "daemon/report/plot.hpp"
#include "daemon/report/text.hpp"
#include "daemon/statistics/run_length.hpp"
#include "daemon/trend/prediction.hpp"
#include "daemon/trend/words.hpp"

namespace midstick::trend {
namespace {

using judge::Picture;
using judge::Series;
using report::escape;

constexpr int kDetail = 380;  // one column a pixel of a plot

Series level_line(Series::Role role, const std::string& label, double level, double nights) {
  return {Series::Style::line, role, label, {1, nights}, {level, level}};
}

Picture values_picture(const MetricTrend& t, const ChartSetting& setting) {
  Picture p{"Value by night", "night", t.metric.unit.empty() ? t.metric.measure : t.metric.measure + ", " + t.metric.unit, {}, {}, {}};
  const auto nights = static_cast<double>(t.metric.nights.size());
  Series values{Series::Style::dots, Series::Role::measured, "value of the night", {}, {}};
  Series mean{Series::Style::line, Series::Role::measured, "weighted mean (EWMA)", {}, {}};
  Series limits{Series::Style::line, Series::Role::input, "its limits, three standard deviations", {}, {}};
  for (std::size_t i = 0; i < t.metric.nights.size(); ++i) {
    const auto night = static_cast<double>(i + 1);
    for (Series* s : {&values, &mean, &limits}) s->x.push_back(night);
    values.y.push_back(t.metric.nights[i].value);
    mean.y.push_back(t.chart.level[i].mean);
    limits.y.push_back(t.chart.level[i].low);
  }
  limits.x.push_back(nights), limits.y.push_back(std::nan(""));  // breaks the line between the lower limit and the upper one
  for (std::size_t i = 0; i < t.metric.nights.size(); ++i) {
    limits.x.push_back(static_cast<double>(i + 1));
    limits.y.push_back(t.chart.level[i].high);
  }
  p.series = {values, mean, limits};
  if (t.tolerance) {
    const std::string label = "95 % of nights lie within (95 % confidence)";
    p.series.push_back(level_line(Series::Role::limit, label, t.tolerance->low, nights));
    p.series.push_back(level_line(Series::Role::limit, label, t.tolerance->high, nights));
  }
  p.bands.push_back({1, std::min(nights, static_cast<double>(setting.baseline)), "baseline", false});
  if (t.chart.drift) p.bands.push_back({static_cast<double>(t.chart.drift->began + 1), nights, "drift", true});
  return p;
}

Picture sums_picture(const MetricTrend& t, const ChartSetting& setting) {
  Picture p{"CUSUM", "night", "sum, standard deviations", {}, {}, {}};
  Series up{Series::Style::line, Series::Role::measured, "of what lies above", {}, {}}, down = up;
  down.label = "of what lies below, drawn downwards";
  for (std::size_t i = 0; i < t.chart.sums.size(); ++i) {
    const auto night = static_cast<double>(setting.baseline + i + 1);
    up.x.push_back(night), down.x.push_back(night);
    up.y.push_back(t.chart.sums[i].high), down.y.push_back(-t.chart.sums[i].low);
  }
  const auto nights = static_cast<double>(t.metric.nights.size());
  p.series = {up, down, level_line(Series::Role::limit, "decision value", setting.decision, nights),
              level_line(Series::Role::limit, "decision value", -setting.decision, nights)};
  if (t.chart.drift && !t.chart.drift->in_baseline)
    p.bands.push_back({static_cast<double>(t.chart.drift->flagged + 1), nights, "alarm", true});
  return p;
}

std::string figure(const Picture& picture, const std::string& id) {
  return fmt::format("<figure><figcaption>{}</figcaption>{}{}</figure>\n", escape(picture.title), report::plot_svg(picture, id, kDetail),
                     report::plot_legend(picture));
}

/// How two nights next to each other hang together, where it is more than chance: then the chart's risk is not what it says.
std::string independence_note(const MetricTrend& t) {
  const auto n = static_cast<double>(t.metric.nights.size());
  if (t.chart.drift || std::abs(t.chart.lag1) <= 2 / std::sqrt(n)) return "";
  return fmt::format(
      "<p class=\"note\">Neighbouring nights are alike (lag-1 autocorrelation {:.2f}): what moves them, temperature perhaps, makes false "
      "alarms "
      "more frequent than the stated risk.</p>\n",
      t.chart.lag1);
}

std::string metric_section(const Trend& trend, std::size_t index, bool plotted) {
  const MetricTrend& t = trend.metrics[index];
  const auto verdict = !t.chart.judged ? "inconclusive" : t.chart.drift ? "fail" : "pass";
  std::string out = fmt::format("<section class=\"check\" id=\"metric-{}\"><h2>{} <span class=\"badge {}\">{}</span></h2>\n", index + 1,
                                escape(t.metric.name()), verdict, escape(state_word(t, trend.setting)));
  out += fmt::format("<p class=\"note\">{}</p>\n", escape(series_text(t.metric)));
  if (t.chart.drift) out += fmt::format("<p class=\"lead\">{}.</p>\n", escape(report::with_micro_sign(drift_sentence(t))));
  if (t.metric.nights.empty()) return out + "</section>\n";
  out += fmt::format("<p class=\"note\">Night 1 is {}, the last {}.{}</p>\n", escape(t.metric.nights.front().started.substr(0, 10)),
                     escape(night_text(t.metric, t.metric.nights.size() - 1)),
                     t.metric.without_value > 0 ? fmt::format(" {} nights without a value.", t.metric.without_value) : "");
  out += independence_note(t);
  if (plotted) {
    out += "<div class=\"figures\">" + figure(values_picture(t, trend.setting), fmt::format("m{}-values", index + 1));
    if (t.chart.judged) out += figure(sums_picture(t, trend.setting), fmt::format("m{}-sums", index + 1));
    out += "</div>\n";
  }
  return out + "</section>\n";
}

std::string overview(const Trend& trend) {
  report::Table table{"Each metric and whether it drifts", {"Metric", "Series", "Nights", "Baseline", "State"}, {}, "ttnwt"};
  for (std::size_t i = 0; i < trend.metrics.size(); ++i) {
    const MetricTrend& t = trend.metrics[i];
    const std::string baseline = t.metric.nights.empty() ? "" : value_text(t.chart.baseline.mean, 2 * t.chart.sd, t.metric.unit);
    table.rows.push_back({fmt::format("<a href=\"#metric-{}\">{}</a>", i + 1, escape(t.metric.name())), escape(series_text(t.metric)),
                          std::to_string(t.metric.nights.size()), escape(baseline), escape(state_word(t, trend.setting))});
  }
  return "<section><h2>Metrics</h2>\n" + html_table(table) +
         "<p class=\"note\">Baseline: mean of the first nights, with two standard deviations of a night.</p></section>\n";
}

std::string comparisons(const Trend& trend) {
  if (trend.comparisons.empty()) return "";
  report::Table table{"Each build against the baseline build",
                      {"Metric", "Build", "Median moved by", "Effect", "p, ranks", "p, shape", "In short"},
                      {},
                      "ttwnnnt"};
  for (const Comparison& c : trend.comparisons) {
    const Metric& m = trend.metrics[c.other].metric;
    table.rows.push_back({escape(m.name()), escape(m.build), escape(shift_text(c.median_shift, m.unit)),
                          fmt::format("{:+.2f}", c.ranks.effect), fmt::format("{:.2g}", c.ranks.p), fmt::format("{:.2g}", c.shape.p),
                          c.differs                 ? "differs"
                          : c.least_p > trend.alpha ? "too few nights to tell"
                                                    : "no difference shown"});
  }
  return "<section><h2>Builds compared</h2>\n" + html_table(table) +
         fmt::format(
             "<p class=\"note\">Ranks: Mann and Whitney; shape: Kolmogorov and Smirnov; exact for small samples, with ties. A build "
             "differs when "
             "p is at most {:.2g} and the medians are further apart than one night's uncertainty. Effect: +1 when every night of the build "
             "is "
             "above every night of the baseline, 0 when they are alike.</p></section>\n",
             trend.alpha);
}

std::string left_out(const Trend& trend) {
  if (trend.left_out.empty()) return "";
  std::string out = "<section><h2>Runs left out</h2><ul>\n";
  for (const LeftOut& l : trend.left_out) out += fmt::format("<li>{}: {}</li>\n", escape(l.folder.string()), escape(l.why));
  return out + "</ul></section>\n";
}

std::string method(const Trend& trend) {
  const ChartSetting& s = trend.setting;
  const auto found = [&](double per_night) {
    const int nights = nights_to_flag(s, per_night);
    return nights > 0 ? fmt::format("{} nights", nights) : std::string("more than 200 nights");
  };
  return fmt::format(
      "<section><h2>How to read this</h2>\n<p class=\"note\">The first {} nights of a metric teach its mean and spread; every later night "
      "is scored against "
      "all before it, and the scores' sums alarm beyond {:.2f} standard deviations (allowance {:.1f}). For independent, normal nights the "
      "chance of "
      "any false alarm here within {} nights is at most {:.2g} %. A drift of half a standard deviation a night is flagged within {}, one "
      "of a whole "
      "standard deviation within {} (99 %). The night it began is an estimate.</p>\n"
      "<p class=\"note\">A drift says that a number moved, not why: a bench that aged looks the same, so check its calibration first. "
      "Steady numbers do not make a machine safe; the cautions of the run reports hold.</p></section>\n",
      s.baseline, s.decision, s.allowance, trend.caution.nights, trend.caution.risk * 100, found(0.5), found(1));
}

}  // namespace

std::string trend_html(const Trend& trend) {
  const int code = exit_code(trend);
  const std::string head = code == 1 ? "Drift" : code == 0 ? "Steady" : "Too few nights";
  std::string out = fmt::format(
      "<!DOCTYPE html>\n<html lang=\"en\"><head><meta charset=\"utf-8\"><meta name=\"viewport\" content=\"width=device-width, "
      "initial-scale=1\"><meta name=\"color-scheme\" content=\"light dark\"><title>{} - Midstick "
      "trend</title>\n<style>\n{}</style></head>\n<body>\n",
      head, report::kPageCss);
  out += fmt::format("<header class=\"top {}\"><p class=\"brand\">Midstick trend</p><h1>{}</h1><p class=\"lead\">{}</p>\n",
                     code == 1   ? "fail"
                     : code == 0 ? "pass"
                                 : "inconclusive",
                     head, escape(verdict_sentence(trend)));
  out += "<dl class=\"facts\">" + report::html_fact("Runs", std::to_string(trend.runs)) + "</dl>\n<ul class=\"causes\">";
  for (const auto& t : trend.metrics)
    if (t.chart.drift) out += fmt::format("<li>{}</li>\n", escape(report::with_micro_sign(drift_sentence(t))));
  out += "</ul></header>\n<main>\n" + overview(trend) + comparisons(trend);
  const bool few = trend.metrics.size() <= kPlotted;
  if (!few) out += fmt::format("<p class=\"note\">More than {} metrics: only those that drift or differ are drawn.</p>\n", kPlotted);
  for (std::size_t i = 0; i < trend.metrics.size(); ++i) {
    const bool differs = std::any_of(trend.comparisons.begin(), trend.comparisons.end(),
                                     [i](const Comparison& c) { return c.differs && (c.baseline == i || c.other == i); });
    out += metric_section(trend, i, few || differs || trend.metrics[i].chart.drift);
  }
  return out + left_out(trend) + method(trend) + "</main>\n<footer><p>Written by midstick trend.</p></footer>\n</body></html>\n";
}

}  // namespace midstick::trend
