#include "daemon/service/api_words.hpp"

#include <spdlog/spdlog.h>

#include <algorithm>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/detached.hpp>

namespace midstick::service {
namespace {

boost::asio::awaitable<void> answer_one(ApiParts& parts, Operation run, http::Request request, http::Reply reply) {
  try {
    reply(co_await run(parts, request));
  } catch (const std::exception& e) {
    spdlog::error("{} {}: {}", request.operation, request.path, e.what());
    reply(http::problem(500, "the daemon has made a mistake; its log says more"));
  }
}

}  // namespace

void offer(http::Handlers& handlers, const std::string& operation, ApiParts& parts, Operation run) {
  handlers[operation] = [&parts, run](http::Request request, http::Reply reply) {
    boost::asio::co_spawn(parts.io, answer_one(parts, run, std::move(request), std::move(reply)), boost::asio::detached);
  };
}

http::Response trouble(const ApiParts& parts, const Error& error) {
  if (!parts.records.state().ready) return http::problem(503, error.message);
  spdlog::error("database: {}", error.message);
  return http::problem(500, error.message);
}

http::Response missing(std::string_view what, const std::string& which) {
  return http::problem(404, "there is no " + std::string(what) + " " + which);
}

http::Response unfit(const std::string& pointer, const std::string& detail) {
  return http::problem(422, "The request cannot be met.", {{pointer, detail}});
}

http::Response raw_json(std::string text) {
  http::Response out;
  out.body = std::move(text);
  return out;
}

boost::asio::awaitable<Result<bool>> has_check(ApiParts& parts, std::int64_t run, const std::string& check) {
  const auto checks = co_await parts.records.ask([run](store::Records& r) { return r.checks(run); });
  if (!checks) co_return checks.error();
  co_return std::ranges::any_of(*checks, [&](const auto& c) { return c.name == check; });
}

}  // namespace midstick::service
