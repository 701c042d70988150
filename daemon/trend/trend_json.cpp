#include "daemon/trend/trend_json.hpp"

#include <nlohmann/json.hpp>

#include "daemon/trend/words.hpp"

namespace midstick::trend {
namespace {

using Json = nlohmann::ordered_json;

Json optional(const std::optional<double>& value) { return value ? Json(*value) : Json(nullptr); }

Json drift(const MetricTrend& t) {
  if (!t.chart.drift) return nullptr;
  const Drift& d = *t.chart.drift;
  const auto night = [&](std::size_t at) { return Json{{"night", at + 1}, {"started", t.metric.nights[at].started}}; };
  return {{"began", night(d.began)},
          {"flagged", night(d.flagged)},
          {"in_baseline", d.in_baseline},
          {"size", d.size},
          {"size_uncertainty", d.u_size},
          {"per_night", optional(d.per_night)},
          {"per_night_uncertainty", d.u_per_night},
          {"text", drift_sentence(t)}};
}

Json metric(const MetricTrend& t, const ChartSetting& setting) {
  const Metric& m = t.metric;
  Json out{{"controller", m.controller}, {"build", m.build},     {"bench", m.bench}, {"plan", m.plan},
           {"check", m.check},           {"measure", m.measure}, {"unit", m.unit}};
  out["state"] = state_word(t, setting);
  out["judged"] = t.chart.judged;
  out["drift"] = drift(t);
  out["baseline"] = {{"nights", t.chart.baseline.samples}, {"mean", t.chart.baseline.mean}, {"sd", t.chart.sd}, {"sd_floor", t.sd_floor}};
  out["tolerance"] = t.tolerance ? Json{{"low", t.tolerance->low}, {"high", t.tolerance->high}} : Json(nullptr);
  out["lag1"] = t.chart.lag1;
  out["nights_without_value"] = m.without_value;
  out["nights"] = Json::array();
  for (std::size_t i = 0; i < m.nights.size(); ++i) {
    Json night{{"started", m.nights[i].started},
               {"folder", m.nights[i].folder.string()},
               {"value", m.nights[i].value},
               {"uncertainty", m.nights[i].uncertainty}};
    if (i >= setting.baseline && t.chart.judged) {
      night["cusum_high"] = t.chart.sums[i - setting.baseline].high;
      night["cusum_low"] = t.chart.sums[i - setting.baseline].low;
    }
    night["ewma"] = t.chart.level[i].mean;
    out["nights"].push_back(std::move(night));
  }
  return out;
}

Json comparison(const Trend& trend, const Comparison& c) {
  const Metric &base = trend.metrics[c.baseline].metric, &other = trend.metrics[c.other].metric;
  return {{"controller", other.controller},
          {"plan", other.plan},
          {"metric", other.name()},
          {"baseline", base.build},
          {"build", other.build},
          {"u", c.ranks.u},
          {"effect", c.ranks.effect},
          {"p_ranks", c.ranks.p},
          {"exact", c.ranks.exact},
          {"d", c.shape.d},
          {"p_shape", c.shape.p},
          {"median_shift", c.median_shift},
          {"resolution", c.resolution},
          {"outside_tolerance", c.outside},
          {"least_p", c.least_p},
          {"differs", c.differs},
          {"text", comparison_sentence(trend, c)}};
}

}  // namespace

std::string trend_json(const Trend& trend) {
  Json out{{"version", 1},
           {"summary", verdict_sentence(trend)},
           {"runs", trend.runs},
           {"drifting", trend.drifting()},
           {"differing", trend.differing()}};
  out["setting"] = {{"baseline_nights", trend.setting.baseline}, {"allowance", trend.setting.allowance},
                    {"decision", trend.setting.decision},        {"risk", trend.caution.risk},
                    {"risk_nights", trend.caution.nights},       {"alpha", trend.alpha}};
  out["metrics"] = Json::array();
  for (const auto& m : trend.metrics) out["metrics"].push_back(metric(m, trend.setting));
  out["comparisons"] = Json::array();
  for (const auto& c : trend.comparisons) out["comparisons"].push_back(comparison(trend, c));
  out["left_out"] = Json::array();
  for (const auto& l : trend.left_out) out["left_out"].push_back({{"folder", l.folder.string()}, {"why", l.why}});
  return out.dump(1, ' ', false, Json::error_handler_t::replace) + "\n";
}

}  // namespace midstick::trend
