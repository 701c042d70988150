// From a request's head to an answer, without a socket: the checks in their order, the handler, and what every answer carries. Private to
// this room; server's thread only, but for a handler's Reply. Never throws for bytes from outside.
#pragma once

#include <functional>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <utility>
#include <variant>
#include <vector>

#include "daemon/http/rate_limit.hpp"
#include "daemon/http/server.hpp"
#include "daemon/http/target.hpp"

namespace midstick::http {

/// What the checks need of a request's header; "" where a field is missing.
struct Head {
  std::string method, target;
  bool http_1_0{false};
  std::string client;  ///< "unix" for the Unix socket
  std::optional<std::string> host;
  bool twice{false};  ///< Host, Authorization, Origin or Content-Type stands there twice
  std::string origin, authorization, cookie, content_type, content_encoding, if_none_match, sec_fetch_site;
  bool wants_websocket{false};
};

/// What goes out.
struct Outgoing {
  int status{200};
  std::vector<std::pair<std::string, std::string>> headers;
  std::string body;
  std::filesystem::path file;  ///< streamed in place of the body
  std::uint64_t size{0};       ///< Content-Length; of the whole even when only the head goes out
  bool head_only{false};
  std::shared_ptr<void> lease;  ///< the handler's, kept until the answer has gone out
};

class Site {
 public:
  Site(Router router, const ServerOptions& options, std::vector<std::string> names);

  /// A request that passed every check but its body's.
  struct Admitted {
    const Operation* operation;
    const Handler* handler;
    Request request;
    std::string secret;  ///< for sessions only: the token that opens one, the key of the one to close; no handler sees it
    WallTime came;
  };
  /// An answer at once (a refusal, an asset), or the way to the handler. `name` becomes what the counters call it.
  std::variant<Response, Admitted> admit(const Head& head, Instant now, WallTime wall, std::string& name);
  /// Reads the body into the request, or refuses it.
  std::optional<Response> take_body(const Head& head, std::string_view body, Admitted& admitted) const;
  /// Calls the handler; `reply` is called exactly once, from any thread, with an answer that the contract allows.
  void run(Admitted admitted, Reply reply);
  /// Adds ETag, security headers and the like; turns a known ETag into 304. May look at the file system.
  Outgoing dress(const Head& head, Response response) const;

  Doorkeeper& doorkeeper() { return doorkeeper_; }
  RateLimit& rate() { return rate_; }

 private:
  std::optional<Response> check_host(const Head& head) const;
  std::optional<Response> check_origin(const Head& head) const;
  /// `by_token_only`: for opening a session, which must not prolong itself.
  std::variant<Response, Doorkeeper::Holder> who(const Head& head, WallTime wall, bool by_token_only) const;
  std::optional<Response> take_parameters(const Router::Match& match, const Target& target, Request& request) const;
  std::variant<Response, Admitted> to_operation(const Head& head, Router::Match match, const Target& target, WallTime wall);
  Response open_session(const std::string& token, WallTime wall);
  Response close_session(const std::string& key);
  const Asset* asset(std::string_view path) const;

  Router router_;
  std::vector<std::string> names_;
  std::span<const Asset> assets_;
  Doorkeeper doorkeeper_;
  RateLimit rate_;
};

/// The value of one cookie; "" when there is none.
std::string cookie_value(std::string_view header, std::string_view name);

}  // namespace midstick::http
