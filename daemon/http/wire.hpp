// Between Beast's messages and this room's plain values. Private: included only by the connection and the fuzz target.
#pragma once

#include <boost/beast/http.hpp>
#include <optional>
#include <string>

#include "daemon/http/site.hpp"

namespace midstick::http {

using WireRequest = boost::beast::http::request<boost::beast::http::string_body>;
using WireParser = boost::beast::http::request_parser<boost::beast::http::string_body>;

/// `client`: the peer's address, or "unix".
Head head_of(const WireRequest& request, const std::string& client);
/// The refusal of a request that could not be parsed; nothing when there is nobody to tell (the peer went away).
std::optional<Response> refusal_of(const boost::system::error_code& error);
void set_limits(WireParser& parser, const Limits& limits);
/// Status line and header fields.
template <class Message>
void fill(Message& message, const Outgoing& out, bool keep_alive) {
  message.result(static_cast<unsigned>(out.status));
  for (const auto& [name, value] : out.headers) message.insert(name, value);
  message.keep_alive(keep_alive);
  if (out.status != 204 && out.status != 304) message.content_length(out.size);
}

}  // namespace midstick::http
