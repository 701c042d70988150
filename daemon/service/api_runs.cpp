// Runs: list, checks, files, evidence.
#include <nlohmann/json.hpp>

#include "daemon/service/answers.hpp"
#include "daemon/service/api.hpp"
#include "daemon/service/api_words.hpp"
#include "daemon/store/files.hpp"

namespace midstick::service {
namespace {

namespace asio = boost::asio;
using http::Request;
using http::Response;
using nlohmann::json;
using Answer = asio::awaitable<Response>;

Answer list(ApiParts& parts, const Request& request) {
  store::RunFilter filter;
  filter.controller = request.text("controller").value_or("");
  filter.plan = request.text("plan").value_or("");
  filter.bench = request.text("bench").value_or("");
  filter.verdict = request.text("verdict").value_or("");
  filter.before = request.integer("before").value_or(0);
  filter.limit = static_cast<int>(request.integer("limit").value_or(50));
  const auto runs = co_await parts.records.ask([&](store::Records& r) { return r.runs(filter); });
  if (!runs) co_return trouble(runs.error());
  json items = json::array();
  for (const auto& r : *runs) items.push_back(run_answer(r));
  co_return answer({{"items", items}, {"next", next_page(*runs, filter.limit)}});
}

/// The run's row, or the answer that there is none.
asio::awaitable<std::variant<store::RunRow, Response>> known(ApiParts& parts, const Request& request) {
  const std::int64_t id = *request.integer("run");
  auto run = co_await parts.records.ask([&](store::Records& r) { return r.run(id); });
  if (!run) co_return trouble(run.error());
  if (!*run) co_return missing("run", id);
  co_return std::move(**run);
}

Answer one(ApiParts& parts, const Request& request) {
  auto run = co_await known(parts, request);
  if (auto* refused = std::get_if<Response>(&run)) co_return std::move(*refused);
  co_return answer(run_answer(std::get<store::RunRow>(run)));
}

Answer checks(ApiParts& parts, const Request& request) {
  auto run = co_await known(parts, request);
  if (auto* refused = std::get_if<Response>(&run)) co_return std::move(*refused);
  const auto rows = co_await parts.records.ask([&](store::Records& r) { return r.checks(std::get<store::RunRow>(run).id); });
  if (!rows) co_return trouble(rows.error());
  json out = json::array();
  for (const auto& c : *rows) out.push_back(check_answer(c));
  co_return answer(out);
}

const char* type_of(const std::string& file) {
  if (file.ends_with(".html")) return "text/html; charset=utf-8";
  if (file.ends_with(".json")) return "application/json";
  if (file.ends_with(".xml")) return "application/xml";
  return "application/octet-stream";
}

/// The contract's enum holds the names; nothing of the request reaches the file system but those.
Answer send(ApiParts& parts, std::int64_t run, const std::string& file) {
  const auto path = parts.work.folder_of(run) / file;
  auto there = co_await on(parts.readers.get_executor(), [&] { return readable(path); });
  if (!there) co_return problem(410, "no such file any more", "run " + std::to_string(run) + " left no " + file + ", or retention has dropped it");
  co_return file_answer(*there, type_of(file), "midstick-run-" + std::to_string(run) + "-" + file);
}

Answer file(ApiParts& parts, const Request& request) {
  auto run = co_await known(parts, request);
  if (auto* refused = std::get_if<Response>(&run)) co_return std::move(*refused);
  co_return co_await send(parts, std::get<store::RunRow>(run).id, *request.text("file"));
}

Answer report(ApiParts& parts, const Request& request) {
  auto run = co_await known(parts, request);
  if (auto* refused = std::get_if<Response>(&run)) co_return std::move(*refused);
  const auto path = parts.work.folder_of(std::get<store::RunRow>(run).id) / "report.json";
  constexpr std::size_t kMostBytes = std::size_t{1} << 28;
  auto text = co_await on(parts.readers.get_executor(), [&] { return store::read_file(path, kMostBytes); });
  if (!text) co_return problem(404, "no report", "this run was not judged");
  co_return raw_json(text.take());
}

/// A plan file of its own: the run's plan, its seed, this one check.
Answer script(ApiParts& parts, const Request& request) {
  auto run = co_await known(parts, request);
  if (auto* refused = std::get_if<Response>(&run)) co_return std::move(*refused);
  const std::int64_t id = std::get<store::RunRow>(run).id;
  const std::string check = *request.text("check");
  const auto path = parts.work.folder_of(id) / "plan.json";
  constexpr std::size_t kMostBytes = 16 << 20;
  const auto text = co_await on(parts.readers.get_executor(), [&] { return store::read_file(path, kMostBytes); });
  json document = text ? json::parse(*text, nullptr, false) : json();
  if (!has_check(document, check)) co_return problem(404, "no such check", "run " + std::to_string(id) + " has no check \"" + check + "\"");
  document["plan"]["only"] = {check};
  co_return answer(document);
}

Answer pulses(ApiParts& parts, const Request& request) {
  auto run = co_await known(parts, request);
  if (auto* refused = std::get_if<Response>(&run)) co_return std::move(*refused);
  Slice slice;
  slice.from_ms = request.number("from_ms").value_or(slice.from_ms);
  slice.to_ms = request.number("to_ms").value_or(slice.to_ms);
  slice.points = static_cast<int>(request.integer("points").value_or(slice.points));
  if (slice.to_ms < slice.from_ms) co_return bad_parameter("to_ms", "found less than from_ms; expected at least as much");
  const std::int64_t id = std::get<store::RunRow>(run).id;
  const auto folder = parts.work.folder_of(id);
  auto text = co_await on(parts.readers.get_executor(), [&]() -> Result<std::string> {
    const auto evidence = parts.evidence.of(folder);
    if (!evidence) return evidence.error();
    return pulses_answer(**evidence, id, slice).dump();
  });
  if (!text) co_return problem(410, "no evidence any more", text.error().message);
  co_return raw_json(text.take());
}

}  // namespace

void bind_runs(http::Router& router, ApiParts& parts) {
  bind(router, "runs", parts, list);
  bind(router, "run", parts, one);
  bind(router, "checks", parts, checks);
  bind(router, "file", parts, file);
  bind(router, "report", parts, report);
  bind(router, "script", parts, script);
  bind(router, "pulses", parts, pulses);
}

}  // namespace midstick::service
