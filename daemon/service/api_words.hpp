// What the operations of openapi.json have in common: bound to the router as coroutines, and the few answers that many of them give.
#pragma once

#include <boost/asio/awaitable.hpp>
#include <nlohmann/json.hpp>
#include <string>
#include <string_view>

#include "daemon/http/response.hpp"
#include "daemon/service/api.hpp"

namespace midstick::service {

using Answer = boost::asio::awaitable<http::Response>;
/// Runs on the io thread. The request lives until the answer is given. One that throws answers 500 and is logged.
using Operation = Answer (*)(ApiParts&, const http::Request&);

/// `parts` must outlive the handlers.
void offer(http::Handlers& handlers, const std::string& operation, ApiParts& parts, Operation run);

/// 503 with what is wrong for a database that is away; else 500.
http::Response trouble(const ApiParts& parts, const Error& error);
/// 404: "there is no run 7".
http::Response missing(std::string_view what, const std::string& which);
/// 422 with one mistake at a JSON pointer of the body.
http::Response unfit(const std::string& pointer, const std::string& detail);
/// JSON text that was made elsewhere.
http::Response raw_json(std::string text);

/// `before` of the next page, when this one is full; null when it was the last.
template <class Rows>
nlohmann::json next_page(const Rows& rows, int limit) {
  return rows.size() < static_cast<std::size_t>(limit) ? nlohmann::json() : nlohmann::json(std::to_string(rows.back().id));
}

/// Did the run play, or at least name, a check called so?
boost::asio::awaitable<Result<bool>> has_check(ApiParts& parts, std::int64_t run, const std::string& check);

}  // namespace midstick::service
