// Jobs: list, submit, cancel, replay.
#include <nlohmann/json.hpp>

#include "daemon/script/load.hpp"
#include "daemon/service/answers.hpp"
#include "daemon/service/api.hpp"
#include "daemon/service/api_words.hpp"
#include "daemon/service/dispatch.hpp"
#include "daemon/store/files.hpp"

namespace midstick::service {
namespace {

namespace asio = boost::asio;
using http::json_response;
using http::problem;
using http::Request;
using http::Response;
using nlohmann::json;

json job_json(const store::Job& job, const ApiParts& parts) {
  const std::string hold = parts.work.holds_all_back();
  return job_answer(job, hold.empty() ? waits_for(job.request, parts.benches.views()) : hold);
}

/// Kept, announced, looked at.
Answer take_on(ApiParts& parts, store::JobRequest job) {
  const auto id = co_await parts.records.ask([&](store::Records& r) { return r.submit(job, now_ms()); });
  if (!id) co_return trouble(parts, id.error());
  const auto kept = co_await parts.records.ask([&](store::Records& r) { return r.job(*id); });
  if (!kept || !*kept) co_return trouble(parts, kept ? Error{ErrorKind::io, "the job is gone"} : kept.error());
  parts.changed("jobs", std::to_string(*id));
  parts.work.look();
  co_return json_response(job_json(**kept, parts), 201);
}

/// What the schema cannot say of a submitted job; nothing when it is right.
std::optional<Response> wrong(const store::JobRequest& job, const Config& config, const json& body) {
  const PlanConfig* plan = config.plan(job.plan);
  if (!plan) return unfit("/plan", "found \"" + job.plan + "\"; expected the name of a plan of the configuration");
  if (!config.controller(job.controller))
    return unfit("/controller", "found \"" + job.controller + "\"; expected the name of a controller of the configuration");
  if (!job.bench.empty() && !config.bench(job.bench))
    return unfit("/bench", "found \"" + job.bench + "\"; expected the name of a bench of the configuration");
  if (body.contains("deadline") && !job.deadline)
    return unfit("/deadline", "found no instant; expected RFC 3339, say 2026-11-26T06:00:00Z");
  if (job.deadline && *job.deadline <= now_ms()) return unfit("/deadline", "found an instant that has passed");
  return std::nullopt;
}

Answer submit(ApiParts& parts, const Request& request) {
  const json& body = *request.body;
  store::JobRequest job;
  job.plan = body.at("plan");
  const auto config = parts.config;
  const PlanConfig* plan = config->plan(job.plan);
  job.controller = body.value("controller", plan ? plan->controller : "");
  job.build = body.value("build", "");
  job.bench = body.value("bench", "");
  job.labels = body.value("labels", std::vector<std::string>{});
  job.only = body.value("checks", std::vector<std::string>{});
  if (body.contains("seed")) job.seed = body["seed"].get<std::uint64_t>();
  job.priority = body.value("priority", 0);
  job.tries = body.value("tries", 1);
  if (body.contains("deadline")) job.deadline = time_of(body["deadline"]);
  if (auto refused = wrong(job, *config, body)) co_return *refused;
  const auto misnamed = co_await on(parts.readers.get_executor(), [&]() -> std::optional<Error> {
    if (job.only.empty()) return std::nullopt;
    const auto loaded = script::load_plan(plan->file.string());
    if (!loaded) return loaded.error();
    const auto some = script::with_only(*loaded, job.only);
    return some ? std::nullopt : std::optional(some.error());
  });
  if (misnamed) co_return unfit("/checks", misnamed->message);
  co_return co_await take_on(parts, std::move(job));
}

Answer list(ApiParts& parts, const Request& request) {
  const auto state = job_state(request.text("state"));
  const auto limit = static_cast<int>(request.integer("limit").value_or(50));
  const auto before = request.integer("before").value_or(0);
  const auto jobs = co_await parts.records.ask([&](store::Records& r) { return r.jobs(state, before, limit); });
  if (!jobs) co_return trouble(parts, jobs.error());
  json items = json::array();
  for (const auto& j : *jobs) items.push_back(job_json(j, parts));
  co_return json_response({{"items", items}, {"next", next_page(*jobs, limit)}});
}

Answer one(ApiParts& parts, const Request& request) {
  const auto job = co_await parts.records.ask([&](store::Records& r) { return r.job(*request.integer("job")); });
  if (!job) co_return trouble(parts, job.error());
  if (!*job) co_return missing("job", request.text("job"));
  co_return json_response(job_json(**job, parts));
}

Answer cancel(ApiParts& parts, const Request& request) {
  const std::int64_t id = *request.integer("job");
  // What plays is stopped first, and without the database.
  parts.work.stop_job(id);
  auto job = co_await parts.records.ask([&](store::Records& r) { return r.job(id); });
  if (!job) co_return trouble(parts, job.error());
  if (!*job) co_return missing("job", request.text("job"));
  const auto cancelled = co_await parts.records.ask([&](store::Records& r) { return r.cancel(id, "cancelled by a person", now_ms()); });
  if (!cancelled) co_return trouble(parts, cancelled.error());
  job = co_await parts.records.ask([&](store::Records& r) { return r.job(id); });
  if (!job || !*job) co_return trouble(parts, job ? Error{ErrorKind::io, "the job is gone"} : job.error());
  if (!*cancelled && (*job)->state != store::JobState::running)
    co_return problem(409, "job " + std::to_string(id) + " is " + name((*job)->state));
  parts.changed("jobs", std::to_string(id));
  co_return json_response(job_json(**job, parts));
}

/// The run's own plan, under its own seed, on any bench that the first job allowed; one check of it, where one is named.
Answer replay(ApiParts& parts, const Request& request) {
  const std::int64_t id = *request.integer("run");
  const auto check = request.text("check");
  const auto run = co_await parts.records.ask([&](store::Records& r) { return r.run(id); });
  if (!run) co_return trouble(parts, run.error());
  if (!*run) co_return missing("run", request.text("run"));
  const auto first = co_await parts.records.ask([&](store::Records& r) { return r.job((*run)->job); });
  if (!first) co_return trouble(parts, first.error());
  const auto file = parts.work.folder_of(id) / "plan.json";
  constexpr std::size_t kMostBytes = 16 << 20;
  auto text = co_await on(parts.readers.get_executor(), [&] { return store::read_file(file, kMostBytes); });
  if (!text) co_return problem(410, "run " + std::to_string(id) + " left no plan");
  if (!check.empty()) {
    const auto known = co_await has_check(parts, id, check);
    if (!known) co_return trouble(parts, known.error());
    if (!*known) co_return missing("check", check);
  }
  store::JobRequest job = *first ? (*first)->request : store::JobRequest{};
  job.plan = (*run)->plan, job.controller = (*run)->controller, job.build = (*run)->build;
  job.document = text.take();
  if (!check.empty()) job.only = {check};
  job.night.clear(), job.deadline.reset();
  if (auto refused = parts.config->lacks(job)) co_return problem(409, *refused);
  co_return co_await take_on(parts, std::move(job));
}

}  // namespace

void bind_jobs(http::Handlers& handlers, ApiParts& parts) {
  offer(handlers, "jobs", parts, list);
  offer(handlers, "submit", parts, submit);
  offer(handlers, "job", parts, one);
  offer(handlers, "cancel", parts, cancel);
  offer(handlers, "replay", parts, replay);
}

}  // namespace midstick::service
