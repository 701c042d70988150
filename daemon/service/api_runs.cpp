// Runs: list, checks, files, evidence.
#include <nlohmann/json.hpp>
#include <variant>

#include "daemon/service/answers.hpp"
#include "daemon/service/api.hpp"
#include "daemon/service/api_words.hpp"
#include "daemon/store/files.hpp"
#include "daemon/store/packed_file.hpp"

namespace midstick::service {
namespace {

constexpr std::size_t kMostCapture = std::size_t{1} << 31;
constexpr const char* kReportPolicy =
    "default-src 'none'; style-src 'unsafe-inline'; img-src data:; frame-ancestors 'self'; base-uri 'none'; form-action 'none'";

namespace asio = boost::asio;
using http::json_response;
using http::problem;
using http::Request;
using http::Response;
using nlohmann::json;

Answer list(ApiParts& parts, const Request& request) {
  store::RunFilter filter;
  filter.controller = request.text("controller");
  filter.plan = request.text("plan");
  filter.bench = request.text("bench");
  filter.verdict = request.text("verdict");
  filter.before = request.integer("before").value_or(0);
  filter.limit = static_cast<int>(request.integer("limit").value_or(filter.limit));
  const auto runs = co_await parts.records.ask([&](store::Records& r) { return r.runs(filter); });
  if (!runs) co_return trouble(parts, runs.error());
  json items = json::array();
  for (const auto& r : *runs) items.push_back(run_answer(r));
  co_return json_response({{"items", items}, {"next", next_page(*runs, filter.limit)}});
}

/// The run's row, or the answer that there is none.
asio::awaitable<std::variant<store::RunRow, Response>> known(ApiParts& parts, const Request& request) {
  const std::int64_t id = *request.integer("run");
  auto run = co_await parts.records.ask([&](store::Records& r) { return r.run(id); });
  if (!run) co_return trouble(parts, run.error());
  if (!*run) co_return missing("run", request.text("run"));
  co_return std::move(**run);
}

Answer one(ApiParts& parts, const Request& request) {
  auto run = co_await known(parts, request);
  if (auto* refused = std::get_if<Response>(&run)) co_return std::move(*refused);
  co_return json_response(run_answer(std::get<store::RunRow>(run)));
}

Answer checks(ApiParts& parts, const Request& request) {
  auto run = co_await known(parts, request);
  if (auto* refused = std::get_if<Response>(&run)) co_return std::move(*refused);
  const auto rows = co_await parts.records.ask([&](store::Records& r) { return r.checks(std::get<store::RunRow>(run).id); });
  if (!rows) co_return trouble(parts, rows.error());
  json out = json::array();
  for (const auto& c : *rows) out.push_back(check_answer(c));
  co_return json_response(out);
}

const char* type_of(const std::string& file) {
  if (file.ends_with(".html")) return "text/html; charset=utf-8";
  if (file.ends_with(".json")) return "application/json";
  if (file.ends_with(".xml")) return "application/xml";
  return "application/octet-stream";
}

/// Packed captures go out unpacked, whole; everything else is streamed.
Response there(const std::filesystem::path& path, const std::string& type) {
  Response out;
  out.type = type;
  std::error_code ignored;
  if (std::filesystem::exists(path, ignored)) {
    out.file = path;
    return out;
  }
  auto text = store::read_packed_file(path, kMostCapture);
  if (!text) return problem(410, "this run left no " + path.filename().string() + ", or retention has dropped it");
  out.body = text.take();
  out.version = "unpacked " + path.string() + " " + std::to_string(out.body.size());  // a kept run's capture never changes
  return out;
}

/// The contract's enum holds the names; nothing of the request reaches the file system but those.
Answer file(ApiParts& parts, const Request& request) {
  auto run = co_await known(parts, request);
  if (auto* refused = std::get_if<Response>(&run)) co_return std::move(*refused);
  const std::string name = request.text("file");
  const auto path = parts.work.folder_of(std::get<store::RunRow>(run).id) / name;
  // Unpacked captures are in memory as long as their clients take to read them.
  constexpr long kMostUnpacked = 4;
  const auto lease = name.starts_with("capture.") ? parts.unpacked : nullptr;
  if (lease && lease.use_count() - 2 >= kMostUnpacked) {  // theirs: all but parts' own and this one
    auto later = http::problem(503, "several captures are being downloaded just now; try again in a moment");
    later.headers["Retry-After"] = "5";
    co_return later;
  }
  auto out = co_await on(parts.readers.get_executor(), [&] { return there(path, type_of(name)); });
  if (out.status != 200) co_return out;
  if (out.file.empty()) out.lease = lease;
  if (name == "report.html") {
    out.policy = kReportPolicy;  // it is one file with its own styles and pictures inside
  } else {
    out.save_as = "midstick-run-" + request.text("run") + "-" + name;
  }
  co_return out;
}

Answer report(ApiParts& parts, const Request& request) {
  auto run = co_await known(parts, request);
  if (auto* refused = std::get_if<Response>(&run)) co_return std::move(*refused);
  const auto path = parts.work.folder_of(std::get<store::RunRow>(run).id) / "report.json";
  constexpr std::size_t kMostBytes = std::size_t{1} << 28;
  auto text = co_await on(parts.readers.get_executor(), [&] { return store::read_file(path, kMostBytes); });
  if (!text) co_return problem(404, "run " + request.text("run") + " was not judged");
  co_return raw_json(text.take());
}

/// A plan file of its own: the run's plan, its seed, this one check.
Answer script(ApiParts& parts, const Request& request) {
  auto run = co_await known(parts, request);
  if (auto* refused = std::get_if<Response>(&run)) co_return std::move(*refused);
  const std::int64_t id = std::get<store::RunRow>(run).id;
  const std::string check = request.text("check");
  const auto checked = co_await has_check(parts, id, check);
  if (!checked) co_return trouble(parts, checked.error());
  if (!*checked) co_return missing("check", check);
  const auto path = parts.work.folder_of(id) / "plan.json";
  constexpr std::size_t kMostBytes = 16 << 20;
  const auto text = co_await on(parts.readers.get_executor(), [&] { return store::read_file(path, kMostBytes); });
  json document = text ? json::parse(*text, nullptr, false) : json();
  if (!document.is_object()) co_return problem(404, "run " + request.text("run") + " left no plan");
  document["plan"]["only"] = {check};
  co_return json_response(document);
}

Answer pulses(ApiParts& parts, const Request& request) {
  auto run = co_await known(parts, request);
  if (auto* refused = std::get_if<Response>(&run)) co_return std::move(*refused);
  Slice slice;
  slice.from_ms = request.number("from_ms").value_or(slice.from_ms);
  slice.to_ms = request.number("to_ms").value_or(slice.to_ms);
  slice.points = static_cast<int>(request.integer("points").value_or(slice.points));
  if (slice.to_ms < slice.from_ms)
    co_return problem(400, "The slice ends before it begins.", {{"to_ms", "found less than from_ms; expected at least as much"}});
  const std::int64_t id = std::get<store::RunRow>(run).id;
  const auto folder = parts.work.folder_of(id);
  auto text = co_await on(parts.readers.get_executor(), [&]() -> Result<std::string> {
    const auto evidence = parts.evidence.of(folder);
    if (!evidence) return evidence.error();
    return pulses_answer(**evidence, id, slice).dump();
  });
  if (!text) co_return problem(410, text.error().message);
  co_return raw_json(text.take());
}

}  // namespace

void bind_runs(http::Handlers& handlers, ApiParts& parts) {
  offer(handlers, "runs", parts, list);
  offer(handlers, "run", parts, one);
  offer(handlers, "checks", parts, checks);
  offer(handlers, "file", parts, file);
  offer(handlers, "report", parts, report);
  offer(handlers, "script", parts, script);
  offer(handlers, "pulses", parts, pulses);
}

}  // namespace midstick::service
