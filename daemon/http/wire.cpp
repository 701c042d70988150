#include "daemon/http/wire.hpp"

#include <boost/beast/websocket/rfc6455.hpp>

namespace midstick::http {

namespace beast = boost::beast;

Head head_of(const WireRequest& request, const std::string& client) {
  using beast::http::field;
  const auto text = [&](field name) { return std::string(request[name]); };
  Head out;
  out.method = std::string(request.method_string());
  out.target = std::string(request.target());
  out.http_1_0 = request.version() < 11;
  out.client = client;
  if (request.count(field::host) > 0) out.host = text(field::host);
  for (const field once : {field::host, field::authorization, field::origin, field::content_type}) out.twice |= request.count(once) > 1;
  out.origin = text(field::origin);
  out.authorization = text(field::authorization);
  out.cookie = text(field::cookie);
  out.content_type = text(field::content_type);
  out.content_encoding = text(field::content_encoding);
  out.if_none_match = text(field::if_none_match);
  out.sec_fetch_site = std::string(request["Sec-Fetch-Site"]);
  out.wants_websocket = beast::websocket::is_upgrade(request);
  return out;
}

std::optional<Response> refusal_of(const boost::system::error_code& failure) {
  using beast::http::error;
  if (failure == error::end_of_stream || failure == error::partial_message) return std::nullopt;
  if (failure == error::header_limit || failure == error::buffer_overflow) return problem(431, "the request's header is too large");
  if (failure == error::body_limit) return problem(413, "the request's body is too large");
  if (failure == error::bad_version) return problem(505, "HTTP/1.1 is spoken here");
  // Anything else of Beast's own is bytes that are not a request; errors of the socket are not for telling.
  if (failure.category() == beast::http::make_error_code(error::bad_method).category())
    return problem(400, "this is not an HTTP request: " + failure.message());
  return std::nullopt;
}

void set_limits(WireParser& parser, const Limits& limits) {
  parser.header_limit(static_cast<std::uint32_t>(limits.header_bytes));
  parser.body_limit(limits.body_bytes);
}

}  // namespace midstick::http
