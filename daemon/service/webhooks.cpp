#include "daemon/service/webhooks.hpp"

#include <spdlog/spdlog.h>

#include <algorithm>
#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/steady_timer.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <boost/beast/core.hpp>
#include <boost/beast/http.hpp>
#include <nlohmann/json.hpp>

#include "daemon/service/answers.hpp"
#include "daemon/service/on.hpp"

namespace midstick::service {
namespace {

namespace asio = boost::asio;
namespace beast = boost::beast;
namespace http = beast::http;
using asio::use_awaitable;

constexpr std::chrono::seconds kPatience{20};

/// The answer's status; throws what Asio throws.
asio::awaitable<unsigned> post(Url url, const std::string& body) {
  const auto executor = co_await asio::this_coro::executor;
  asio::ip::tcp::resolver resolver(executor);
  beast::tcp_stream stream(executor);
  stream.expires_after(kPatience);
  const auto found = co_await resolver.async_resolve(url.host, url.port, use_awaitable);
  co_await stream.async_connect(found, use_awaitable);
  http::request<http::string_body> request{http::verb::post, url.target, 11};
  request.set(http::field::host, url.host);
  request.set(http::field::content_type, "application/json");
  request.body() = body;
  request.prepare_payload();
  co_await http::async_write(stream, request, use_awaitable);
  beast::flat_buffer buffer;
  http::response_parser<http::string_body> response;
  response.body_limit(64 * 1024);
  co_await http::async_read_header(stream, buffer, response, use_awaitable);
  co_return response.get().result_int();
}

asio::awaitable<void> deliver(WebhookConfig hook, std::string body, std::int64_t run) {
  const auto url = parse_url(hook.url);
  if (!url) co_return;
  asio::steady_timer timer(co_await asio::this_coro::executor);
  for (int n = 1; n <= hook.tries; ++n) {
    if (n > 1) {
      timer.expires_after(pause_before(n));
      co_await timer.async_wait(use_awaitable);
    }
    std::string trouble;
    try {
      const unsigned status = co_await post(*url, body);
      if (status >= 200 && status < 300) co_return;
      trouble = "answered " + std::to_string(status);
    } catch (const std::exception& e) {
      trouble = e.what();
    }
    spdlog::warn("run {}: webhook {} try {} of {}: {}", run, hook.url, n, hook.tries, trouble);
  }
}

}  // namespace

std::optional<Url> parse_url(const std::string& text) {
  constexpr std::string_view kScheme = "http://";
  if (!text.starts_with(kScheme)) return std::nullopt;
  const std::string rest = text.substr(kScheme.size());
  const auto slash = rest.find('/');
  std::string host = rest.substr(0, slash);
  std::string port = "80";
  const auto bracket = host.rfind(']');  // [IPv6]
  const auto colon = host.rfind(':');
  if (colon != std::string::npos && (bracket == std::string::npos || colon > bracket)) {
    port = host.substr(colon + 1);
    host.resize(colon);
  }
  if (bracket != std::string::npos && host.front() == '[') host = host.substr(1, host.size() - 2);
  if (host.empty() || port.empty() || port.find_first_not_of("0123456789") != std::string::npos) return std::nullopt;
  return Url{host, port, slash == std::string::npos ? "/" : rest.substr(slash)};
}

std::chrono::seconds pause_before(int n) {
  constexpr std::chrono::seconds kFirst{5}, kLongest{600};
  return std::min(kLongest, kFirst * (1 << std::clamp(n - 2, 0, 10)));
}

void tell(asio::io_context& io, const WebhookConfig& hook, const store::RunRow& run) {
  if (std::ranges::find(hook.on, run.verdict) == hook.on.end()) return;
  begin(io, deliver(hook, run_answer(run).dump(-1, ' ', false, nlohmann::json::error_handler_t::replace), run.id));
}

}  // namespace midstick::service
