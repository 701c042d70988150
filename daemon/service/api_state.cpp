// The daemon itself: health, what it is configured to do, its numbers, its contract.
#include <nlohmann/json.hpp>

#include "daemon/engine/programme.hpp"
#include "daemon/script/load.hpp"
#include "daemon/service/answers.hpp"
#include "daemon/service/api.hpp"
#include "daemon/service/api_words.hpp"
#include "daemon/service/nights.hpp"

namespace midstick::service {
namespace {

using http::json_response;
using http::Request;
using http::Response;
using nlohmann::json;

json health_json(const ApiParts& parts, std::size_t queued) {
  const DatabaseState& db = parts.records.state();
  const bool full = parts.work.free_bytes() < Work::kLeastFreeBytes;
  std::string detail = db.detail;
  if (full) {
    detail += detail.empty() ? "" : "; ";
    detail += "the disk that keeps the runs is nearly full: nothing is begun with less than " +
              std::to_string(Work::kLeastFreeBytes / 1'000'000) + " MB free";
  }
  int ready = 0, running = 0, held = 0, away = 0;
  for (const auto& b : parts.benches.all()) ++(b->busy() ? running : !b->held.empty() ? held : b->present ? ready : away);
  return {{"state", db.ready && !full ? "ready" : "degraded"},
          {"version", parts.version},
          {"now", time_text(now_ms())},
          {"clock_zone", own_zone()},
          {"store",
           {{"state", db.ready ? "ready" : "away"},
            {"kind", parts.config->database == "sqlite" ? "sqlite" : "postgresql"},
            {"detail", detail},
            {"since", db.ready ? json() : json(time_text(db.since))},
            {"unsaved_runs", db.unsaved},
            {"free_bytes", parts.work.free_bytes()}}},
          {"benches", {{"ready", ready}, {"running", running}, {"held", held}, {"missing", away}}},
          {"queued", queued}};
}

/// Answers also while the database is away: that is what it is for.
Answer health(ApiParts& parts, const Request&) {
  const auto queue = co_await parts.records.ask([](store::Records& r) { return r.queue(); });
  co_return json_response(health_json(parts, queue ? queue->size() : 0));
}

json plan_json(const PlanConfig& plan) {
  json out{{"name", plan.name}, {"file", plan.file.string()}, {"controller", plan.controller}, {"checks", json::array()}, {"board_ms", 0},
           {"problem", ""}};
  const auto loaded = script::load_plan(plan.file.string());
  if (!loaded) {
    out["problem"] = loaded.error().message;
    return out;
  }
  for (const auto& check : loaded->checks) out["checks"].push_back(check.name);
  const auto programme = engine::compose(*loaded, loaded->seed);
  if (programme)
    out["board_ms"] = static_cast<double>(programme->timeline.length.count) / 1e6;
  else
    out["problem"] = programme.error().message;
  return out;
}

/// As the files are now, not as they were when the configuration was read: that is what a run will play.
Answer plans(ApiParts& parts, const Request&) {
  const auto config = parts.config;
  const json out = co_await on(parts.readers.get_executor(), [&] {
    json all = json::array();
    for (const PlanConfig& plan : config->plans) all.push_back(plan_json(plan));
    return all;
  });
  co_return json_response(out);
}

Answer controllers(ApiParts& parts, const Request&) {
  json out = json::array();
  for (const auto& c : parts.config->controllers) out.push_back({{"name", c.name}, {"prepare", c.prepare.has_value()}});
  co_return json_response(out);
}

Answer reload(ApiParts& parts, const Request& request) {
  if (const auto read = co_await parts.reload(); !read) co_return http::problem(422, read.error().message);
  co_return co_await health(parts, request);
}

Answer numbers(ApiParts& parts, const Request&) {
  const auto queue = co_await parts.records.ask([](store::Records& r) { return r.queue(); });
  if (queue) parts.metrics.queued(queue->size());
  std::map<std::string, std::string> states;
  for (const auto& b : parts.benches.all()) states[b->config.name] = b->state();
  parts.metrics.benches(states);
  parts.metrics.database(parts.records.state().ready, parts.records.state().unsaved);
  parts.metrics.disk_free(parts.work.free_bytes());
  const http::HubCounters live = parts.live_counters();
  parts.metrics.live_clients(live.listeners, live.dropped_stalled + live.dropped_full + live.dropped_silent);
  Response out;
  out.type = "text/plain; version=0.0.4; charset=utf-8";
  out.body = parts.metrics.text();
  co_return out;
}

Answer contract(ApiParts&, const Request&) { co_return raw_json(std::string(contract_text())); }

}  // namespace

void bind_state(http::Handlers& handlers, ApiParts& parts) {
  offer(handlers, "health", parts, health);
  offer(handlers, "plans", parts, plans);
  offer(handlers, "controllers", parts, controllers);
  offer(handlers, "reload", parts, reload);
  offer(handlers, "prometheus", parts, numbers);
  offer(handlers, "openapi", parts, contract);
}

}  // namespace midstick::service
