// Tonight, and metrics over the nights.
#include <nlohmann/json.hpp>
#include <set>

#include "daemon/service/answers.hpp"
#include "daemon/service/api.hpp"
#include "daemon/service/api_words.hpp"
#include "daemon/service/histories.hpp"
#include "daemon/service/night_watch.hpp"

namespace midstick::service {
namespace {

namespace asio = boost::asio;
using http::json_response;
using http::problem;
using http::Request;
using http::Response;
using nlohmann::json;

constexpr store::UnixMs kDay = 24 * 3'600'000;

void append(json& to, const json& more) { to.insert(to.end(), more.begin(), more.end()); }

Result<json> since_yesterday(store::Records& records, const Config& config) {
  const store::UnixMs since = now_ms() - kDay;
  store::RunFilter filter;
  filter.limit = 200;
  auto all = records.runs(filter);
  if (!all) return all.error();
  std::vector<store::RunRow> runs;
  for (auto& r : *all)
    if (r.began >= since) runs.push_back(std::move(r));
  json out{{"since", time_text(since)}, {"runs", json::array()}, {"broke", json::array()}, {"drifted", json::array()}};
  std::set<std::pair<std::string, std::string>> series;
  for (const auto& r : runs) {
    out["runs"].push_back(run_answer(r));
    series.emplace(r.controller, r.plan);
    if (r.failed == 0) continue;
    const auto b = broke(records, r);
    if (!b) return b.error();
    append(out["broke"], *b);
  }
  for (const auto& [controller, plan] : series) {
    const auto d = drifts(records, controller, plan);
    if (!d) return d.error();
    append(out["drifted"], *d);
  }
  const auto q = quarantine(records, runs);
  if (!q) return q.error();
  out["quarantined"] = *q;
  const auto nights = nights_answer(records, config);
  if (!nights) return nights.error();
  out["nights"] = *nights;
  return out;
}

Answer tonight(ApiParts& parts, const Request&) {
  const auto config = parts.config;
  const auto out = co_await parts.records.ask([&](store::Records& r) { return since_yesterday(r, *config); });
  co_return out ? json_response(*out) : trouble(parts, out.error());
}

Answer nights(ApiParts& parts, const Request&) {
  const auto config = parts.config;
  const auto out = co_await parts.records.ask([&](store::Records& r) { return nights_answer(r, *config); });
  co_return out ? json_response(*out) : trouble(parts, out.error());
}

Answer metric_names(ApiParts& parts, const Request& request) {
  const auto series =
      co_await parts.records.ask([&](store::Records& r) { return r.series(request.text("controller"), request.text("plan")); });
  if (!series) co_return trouble(parts, series.error());
  json out = json::array();
  for (const auto& s : *series)
    if (json one{{"name", s.name}, {"unit", s.unit}}; out.empty() || out.back() != one) out.push_back(std::move(one));
  co_return json_response(out);
}

Answer trend(ApiParts& parts, const Request& request) {
  const auto out = co_await parts.records.ask([&](store::Records& r) {
    return trend_answer(r, request.text("controller"), request.text("plan"), request.text("metric"), request.text("bench"));
  });
  if (!out) co_return trouble(parts, out.error());
  if (!*out) co_return problem(404, "no complete run has the metric \"" + request.text("metric") + "\"");
  co_return json_response(**out);
}

}  // namespace

void bind_histories(http::Handlers& handlers, ApiParts& parts) {
  offer(handlers, "tonight", parts, tonight);
  offer(handlers, "nights", parts, nights);
  offer(handlers, "metric_names", parts, metric_names);
  offer(handlers, "trend", parts, trend);
}

}  // namespace midstick::service
