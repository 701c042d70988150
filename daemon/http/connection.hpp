// One client: its requests one after the other, or its WebSocket. Private to this room; includes Asio. Server's thread only. Kept alive by
// its own coroutine; `House` is what it needs of the server, and outlives it.
#pragma once

#include <boost/asio/awaitable.hpp>
#include <boost/asio/generic/stream_protocol.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/beast/core/flat_buffer.hpp>
#include <boost/beast/websocket/stream.hpp>
#include <memory>
#include <optional>
#include <string>

#include "daemon/http/wire.hpp"

namespace midstick::http {

class Connection;

/// What all connections share.
struct House {
  House(boost::asio::io_context& io, Router router, ServerOptions options, std::vector<std::string> names);

  boost::asio::io_context& io;
  ServerOptions options;
  Site site;
  Hub hub;
  ServerCounters counters;
  bool stopping{false};
  std::function<void(Connection*)> ended;
};

class Connection : public std::enable_shared_from_this<Connection> {
 public:
  using Socket = boost::asio::generic::stream_protocol::socket;

  Connection(std::shared_ptr<House> house, Socket socket, std::string client);
  void start();
  /// Is its time over? Then it ends: with 408 while a request is being read, else at once.
  void sweep(Instant now);
  /// Idle: ends now. Answering: ends after the answer. WebSocket: closes with 1001.
  void finish();
  void cut();

 private:
  enum class Phase { idle, reading, answering, writing, live, lingering };
  template <class T = void>
  using Task = boost::asio::awaitable<T>;

  Task<> serve();
  Task<bool> serve_one();  ///< false: the connection is over
  Task<bool> read(WireParser& parser, bool whole);
  Task<bool> refuse(const Head& head, Response response, const std::string& name);
  Task<Response> handle(Site::Admitted admitted);
  Task<bool> send(Outgoing out, bool keep_alive);
  template <class Body>
  Task<bool> send_message(boost::beast::http::response<Body>& message, bool head_only);
  Task<> linger();
  Task<> live(WireRequest request, WebSocket socket);
  void join(WebSocket how);
  void write_next();
  void enter(Phase phase, std::chrono::seconds time);
  void count(const std::string& name, int status);

  std::shared_ptr<House> house_;
  Socket socket_;
  std::string client_;
  boost::beast::flat_buffer buffer_;
  Phase phase_{Phase::idle};
  std::optional<Instant> deadline_;
  bool late_{false}, last_{false};

  std::optional<boost::beast::websocket::stream<Socket&>> live_;
  std::shared_ptr<Listener> listener_;
  bool busy_{false}, pinging_{false};
};

}  // namespace midstick::http
