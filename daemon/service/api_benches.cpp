// Benches: what each does, stop, release, live view. Only the answer to "stop all" waits for the database, not the stop.
#include <spdlog/spdlog.h>

#include <nlohmann/json.hpp>

#include "daemon/capture/calibration.hpp"
#include "daemon/engine/bench_calibration.hpp"
#include "daemon/service/answers.hpp"
#include "daemon/service/api.hpp"
#include "daemon/service/api_words.hpp"
#include "daemon/store/calibration_file.hpp"

namespace midstick::service {
namespace {

using http::json_response;
using http::Request;
using http::Response;
using nlohmann::json;

/// The calibration kept for the board, as far as it can be told without the board: whether it fits this one is seen when it is greeted.
json calibration_json(const std::string& board, const std::filesystem::path& keep) {
  const auto file = engine::kept_calibration(board, keep);
  if (file.empty()) return nullptr;
  const auto kept = store::read_calibration(file);
  if (!kept) return nullptr;
  const std::string until = capture::valid_until(*kept);
  const bool foreign = kept->board != board;
  const bool old = time_text(now_ms()).substr(0, until.size()) > until;
  json out{{"board", kept->board}, {"date", kept->date}, {"valid_until", until}, {"state", foreign ? "foreign" : old ? "old" : "valid"}};
  out["detail"] = foreign ? "It belongs to board \"" + kept->board + "\" and is not used." : old ? "It is too old and is not used." : "";
  return out;
}

json bench_json(const Bench& b, const std::string& board, json calibration) {
  const BenchProgress& p = b.progress;
  return {{"name", b.config.name},
          {"address", b.config.address},
          {"labels", b.config.labels},
          {"state", b.state()},
          {"detail", b.held.empty() ? b.detail : b.held},
          {"board", board},
          {"virtual", b.config.is_virtual()},
          {"run", b.run ? json(b.run) : json()},
          {"job", b.job ? json(b.job) : json()},
          {"check", p.check},
          {"segment", p.segment},
          {"segments", p.segments},
          {"done_ms", p.done_ms},
          {"total_ms", p.total_ms},
          {"calibration", std::move(calibration)}};
}

/// Looks for its calibration on disk.
boost::asio::awaitable<json> told(ApiParts& parts, std::shared_ptr<Bench> bench) {
  const std::string address = bench->port.empty() ? bench->config.address : bench->port, given = bench->config.board;
  const auto keep = parts.config->keep;
  auto [board, calibration] = co_await on(parts.readers.get_executor(), [&] {
    std::string name = engine::board_name(address, given);
    json found = calibration_json(name, keep);
    return std::pair(std::move(name), std::move(found));
  });
  co_return bench_json(*bench, board, std::move(calibration));
}

Answer list(ApiParts& parts, const Request&) {
  json out = json::array();
  const auto all = parts.benches.all();
  for (const auto& b : all) out.push_back(co_await told(parts, b));
  co_return json_response(out);
}

Answer one(ApiParts& parts, const Request& request) {
  const auto bench = parts.benches.find(request.text("bench"));
  if (!bench) co_return missing("bench", request.text("bench"));
  co_return json_response(co_await told(parts, bench));
}

Answer stop_one(ApiParts& parts, const Request& request) {
  const std::string name = request.text("bench");
  if (!parts.benches.find(name)) co_return missing("bench", name);
  json stopped = json::array();
  if (parts.work.stop_bench(name)) stopped.push_back(name);
  parts.changed("benches", name);
  co_return json_response({{"benches", stopped}, {"cancelled", 0}});
}

/// Every bench, and nothing that waits begins after it.
Answer stop(ApiParts& parts, const Request& request) {
  const json stopped = parts.work.stop_benches();
  parts.changed("benches", "");
  const auto cancelled = co_await parts.work.cancel_queue("stopped by " + request.who);
  if (!cancelled)
    co_return http::problem(503,
                            "Every bench was told to stop. What waits is cancelled as soon as the database is back, and nothing begins "
                            "before that: " +
                                cancelled.error().message);
  co_return json_response({{"benches", stopped}, {"cancelled", *cancelled}});
}

Answer release(ApiParts& parts, const Request& request) {
  const std::string name = request.text("bench");
  const auto bench = parts.benches.find(name);
  if (!bench) co_return missing("bench", name);
  if (!parts.benches.release(name)) co_return http::problem(409, "bench " + name + " is not held");
  spdlog::warn("bench {} released by {}", name, request.who);
  parts.changed("benches", name);
  parts.work.look();
  co_return json_response(co_await told(parts, bench));
}

Answer live(ApiParts& parts, const Request& request) {
  Response out;
  if (!request.wants_websocket) co_return http::problem(400, "This is a WebSocket: ask with Upgrade.");
  json names = json::array();
  for (const auto& b : parts.benches.all()) names.push_back(b->config.name);
  http::WebSocket socket;
  socket.greeting = json{{"type", "hello"}, {"version", parts.version}, {"benches", names}}.dump();
  if (const std::string bench = request.text("bench"); !bench.empty())
    socket.wants = [own = "live " + bench](std::string_view topic) { return !topic.starts_with("live ") || topic == own; };
  out.websocket = std::move(socket);
  co_return out;
}

}  // namespace

void bind_benches(http::Handlers& handlers, ApiParts& parts) {
  offer(handlers, "benches", parts, list);
  offer(handlers, "bench", parts, one);
  offer(handlers, "stop_bench", parts, stop_one);
  offer(handlers, "stop", parts, stop);
  offer(handlers, "release_bench", parts, release);
  offer(handlers, "live", parts, live);
}

}  // namespace midstick::service
