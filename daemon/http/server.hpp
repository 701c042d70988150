// HTTP/1.1 and WebSocket server of one contract; knows nothing of benches.
//
// Everything runs on the io_context given, which one thread runs; only Hub::publish and a handler's Reply may be used from others. Times
// come from the clocks in the options; `tick` applies them. The server ticks itself every 250 ms; a test calls `tick` with its own clock
// instead. The order of checks: connection limit, header, Host, rate, Origin, path, method, token, scope, parameters, body. Beside the
// contract it serves the assets (to everybody: a page must load before a person can give a token) and POST and DELETE /api/1/session
// (tokens.hpp).
#pragma once

#include <chrono>
#include <cstdint>
#include <filesystem>
#include <functional>
#include <map>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "daemon/core/result.hpp"
#include "daemon/http/hub.hpp"
#include "daemon/http/router.hpp"
#include "daemon/http/tokens.hpp"

namespace boost::asio {
class io_context;
}

namespace midstick::http {

/// Built in, never changed: `path` "/app.js"; "/index.html" is served at "/" too.
struct Asset {
  std::string_view path, type, bytes;
};

struct Limits {
  std::size_t body_bytes{64 * 1024}, header_bytes{8 * 1024}, connections{256};
  double requests_per_second{50}, burst{200};  ///< per client address; not on the Unix socket
  std::chrono::seconds header_time{10}, idle_time{60}, write_time{60}, stop_time{5};
};

struct ServerOptions {
  struct Tcp {
    std::string address{"127.0.0.1"};  ///< numeric, IPv4 or IPv6
    std::uint16_t port{0};             ///< 0: any free one, see Server::ports
  };
  std::vector<Tcp> tcp;
  std::filesystem::path unix_socket;  ///< empty: none. Mode 0660; a stale one is replaced, one in use is an error
  std::vector<std::string> names;     ///< host names people use for this machine; loopback names and the addresses above are always right
  Limits limits;
  HubOptions hub;
  std::vector<TokenRecord> tokens;  ///< empty: everybody is admin, and only loopback and the Unix socket are allowed
  std::span<const Asset> assets;    ///< must outlive the server
  std::function<Instant()> clock{std::chrono::steady_clock::now};
  std::function<WallTime()> wall_clock{std::chrono::system_clock::now};
  bool ticks_itself{true};
};

struct ServerCounters {
  std::size_t connections{0};                                          ///< now
  std::uint64_t accepted{0}, refused{0}, timed_out{0}, sent_bytes{0};  ///< refused: over the connection limit
  std::map<std::pair<std::string, int>, std::uint64_t> requests;       ///< by operation ("-" for none, "asset") and status
};

class Server {
 public:
  /// Listens when it returns. usage: listening beyond loopback without tokens, a bad address; io: cannot listen there.
  static Result<std::unique_ptr<Server>> start(boost::asio::io_context& io, Router router, ServerOptions options);
  /// Call `stop` first and run the io_context until it is done; else open connections are cut.
  ~Server();

  Hub& hub();
  std::vector<std::uint16_t> ports() const;  ///< of options.tcp, in order
  ServerCounters counters() const;
  Status replace_tokens(
      std::vector<TokenRecord> tokens);  ///< usage, and nothing changes, when it listens beyond loopback and there are none
  void tick();
  /// Accepts nothing more, lets answers in flight end for at most stop_time, closes WebSockets with 1001, then calls `done`.
  void stop(std::function<void()> done);

 private:
  class Impl;
  explicit Server(std::shared_ptr<Impl> impl);
  std::shared_ptr<Impl> impl_;
};

}  // namespace midstick::http
