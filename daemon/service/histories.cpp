#include "daemon/service/histories.hpp"

#include <algorithm>
#include <map>
#include <nlohmann/json.hpp>
#include <set>
#include <tuple>

#include "daemon/service/answers.hpp"
#include "daemon/service/flaky.hpp"
#include "daemon/service/night_watch.hpp"
#include "daemon/trend/trend.hpp"

namespace midstick::service {
namespace {

using nlohmann::json;

constexpr int kLookBack = 20;  ///< runs; a check that none of them judged counts as one without an earlier run

/// "check: measure", as rows_of() puts it together.
trend::Metric metric_of(const store::Records::Series& series, const std::string& controller, const std::string& plan) {
  const auto colon = series.name.find(": ");
  trend::Metric m{controller,
                  "",
                  series.bench,
                  plan,
                  series.name.substr(0, colon),
                  series.name.substr(std::min(series.name.size(), colon + 2)),
                  series.unit,
                  {},
                  {},
                  {},
                  0};
  for (const auto& p : series.points) m.nights.push_back({time_text(p.at), std::to_string(p.run), p.value, p.uncertainty.value_or(0)});
  return m;
}

json drift_json(const trend::MetricTrend& t) {
  const trend::Drift& d = *t.chart.drift;
  const trend::Night& began = t.metric.nights[std::min(d.began, t.metric.nights.size() - 1)];
  std::string detail =
      d.in_baseline ? "The baseline nights themselves slope." : "Flagged " + std::to_string(d.flagged - d.began) + " runs after it began.";
  return {{"controller", t.metric.controller},
          {"plan", t.metric.plan},
          {"bench", t.metric.bench},
          {"metric", t.metric.name()},
          {"unit", t.metric.unit},
          {"began", "run " + began.folder.string() + ", " + began.started},
          {"size", d.size},
          {"detail", detail}};
}

/// Every series of the plan judged together: they share one caution.
Result<trend::Trend> judged(store::Records& records, const std::string& controller, const std::string& plan) {
  auto all = records.series(controller, plan);
  if (!all) return all.error();
  trend::History history;
  for (const auto& s : *all) history.metrics.push_back(metric_of(s, controller, plan));
  if (history.metrics.empty()) return trend::Trend{};
  return trend::analyse(history, {});
}

struct Earlier {
  std::int64_t run;
  std::string verdict;
};

/// For each of `checks` the last run before `run` that judged it. Of the same bench: another bench's board, wiring and supply are other
/// reasons to fail. A run that left a check out, or could not judge it, says nothing of it.
Status look_back(store::Records& records, const store::RunRow& run, std::map<std::string, std::optional<Earlier>>& checks) {
  store::RunFilter filter;
  filter.controller = run.controller, filter.plan = run.plan, filter.bench = run.bench, filter.before = run.id, filter.limit = kLookBack;
  const auto earlier = records.runs(filter);
  if (!earlier) return earlier.error();
  auto open = checks.size();
  for (auto r = earlier->begin(); r != earlier->end() && open > 0; ++r) {
    if (r->state != "complete") continue;
    const auto rows = records.checks(r->id);
    if (!rows) return rows.error();
    for (const auto& c : *rows) {
      const auto wanted = checks.find(c.name);
      if (wanted == checks.end() || wanted->second || (c.verdict != "pass" && c.verdict != "fail")) continue;
      wanted->second = Earlier{r->id, c.verdict};
      --open;
    }
  }
  return Ok{};
}

}  // namespace

Result<std::optional<json>> trend_answer(store::Records& records, const std::string& controller, const std::string& plan,
                                         const std::string& metric, const std::string& bench) {
  auto all = records.series(controller, plan);
  if (!all) return all.error();
  std::vector<const store::Records::Series*> of_metric;
  json benches = json::array();
  for (const auto& s : *all)
    if (s.name == metric) of_metric.push_back(&s), benches.push_back(s.bench);
  const auto own = bench.empty() ? std::ranges::max_element(of_metric, {}, [](const auto* s) { return s->points.back().run; })
                                 : std::ranges::find(of_metric, bench, [](const auto* s) { return s->bench; });
  if (own == of_metric.end()) return std::optional<json>();
  const store::Records::Series& series = **own;
  auto trend = judged(records, controller, plan);
  if (!trend) return trend.error();
  const auto t =
      std::ranges::find_if(trend->metrics, [&](const auto& m) { return m.metric.name() == metric && m.metric.bench == series.bench; });
  json points = json::array();
  for (const auto& p : series.points)
    points.push_back({{"run", p.run},
                      {"at", time_text(p.at)},
                      {"build", p.build},
                      {"value", p.value},
                      {"uncertainty", p.uncertainty ? json(*p.uncertainty) : json()}});
  // A band from two runs would say "steady" of what nobody knows yet.
  const bool judged_yet = t != trend->metrics.end() && t->chart.judged;
  const bool band = judged_yet && t->tolerance.has_value();
  std::string detail = "Too few runs to judge: " + std::to_string(series.points.size()) + ", more than " +
                       std::to_string(trend->setting.baseline) + " needed.";
  if (judged_yet)
    detail = "Self-starting CUSUM after " + std::to_string(trend->setting.baseline) + " runs; band: 95 % of runs, with 95 % confidence.";
  return std::optional<json>({{"controller", controller},
                              {"plan", plan},
                              {"metric", metric},
                              {"unit", series.unit},
                              {"bench", series.bench},
                              {"benches", benches},
                              {"points", points},
                              {"centre", judged_yet ? json(t->chart.baseline.mean) : json()},
                              {"low", band ? json(t->tolerance->low) : json()},
                              {"high", band ? json(t->tolerance->high) : json()},
                              {"drift", judged_yet && t->chart.drift ? drift_json(*t) : json()},
                              {"detail", detail}});
}

Result<json> drifts(store::Records& records, const std::string& controller, const std::string& plan) {
  auto trend = judged(records, controller, plan);
  if (!trend) return trend.error();
  json out = json::array();
  for (const auto& t : trend->metrics)
    if (t.chart.drift) out.push_back(drift_json(t));
  return out;
}

Result<json> broke(store::Records& records, const store::RunRow& run) {
  auto now = records.checks(run.id);
  if (!now) return now.error();
  std::map<std::string, std::optional<Earlier>> failing;
  for (const auto& c : *now)
    if (c.verdict == "fail") failing[c.name];
  if (const auto found = look_back(records, run, failing); !found) return found.error();
  json out = json::array();
  for (const auto& c : *now) {
    if (c.verdict != "fail") continue;
    const auto& before = failing[c.name];
    out.push_back({{"run", run.id},
                   {"controller", run.controller},
                   {"build", run.build},
                   {"check", c.name},
                   {"summary", c.summary},
                   {"cause", c.cause},
                   {"new", before && before->verdict == "pass"},
                   {"before", before ? before->verdict : "none"},
                   {"before_run", before ? json(before->run) : json()}});
  }
  return out;
}

Result<json> quarantine(store::Records& records, const std::vector<store::RunRow>& runs) {
  json out = json::array();
  std::set<std::tuple<std::string, std::string, std::string>> seen;
  for (const auto& run : runs) {
    auto checks = records.checks(run.id);
    if (!checks) return checks.error();
    for (const auto& c : *checks) {
      if (!c.quarantined || !seen.emplace(run.controller, run.plan, c.name).second) continue;
      auto verdicts = records.verdicts(run.controller, run.plan, run.build, c.name, kFlakyWindow);
      if (!verdicts) return verdicts.error();
      out.push_back(
          {{"controller", run.controller}, {"plan", run.plan}, {"check", c.name}, {"flips", changes(*verdicts)}, {"of", verdicts->size()}});
    }
  }
  return out;
}

Result<json> nights_answer(store::Records& records, const Config& config) {
  json out = json::array();
  for (const NightConfig& night : config.nights) {
    const auto around = nights_around(now_ms(), night.at, night.zone);
    if (!around) return around.error();
    const PlanConfig* plan = config.plan(night.plan);
    auto job = records.night(night_name(night, around->last));
    if (!job) return job.error();
    json last;
    if (*job) {
      std::string verdict;
      if ((*job)->run != 0) {
        auto run = records.run((*job)->run);
        if (!run) return run.error();
        if (*run) verdict = (*run)->verdict;
      }
      last = {
          {"night", (*job)->request.night}, {"job", (*job)->id}, {"run", (*job)->run ? json((*job)->run) : json()}, {"verdict", verdict}};
    }
    out.push_back({{"name", night.name},
                   {"plan", night.plan},
                   {"controller", plan ? plan->controller : ""},
                   {"at", local_time_text(night.at)},
                   {"zone", night.zone},
                   {"next", time_text(around->next.due_ms)},
                   {"last", last}});
  }
  return out;
}

}  // namespace midstick::service
