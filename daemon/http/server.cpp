#include "daemon/http/server.hpp"

#include <boost/asio/post.hpp>
#include <boost/asio/steady_timer.hpp>
#include <unordered_map>

#include "daemon/http/connection.hpp"
#include "daemon/http/listen.hpp"

namespace midstick::http {

namespace asio = boost::asio;
using boost::system::error_code;

namespace {

std::string peer_of(const asio::ip::tcp::socket& socket) {
  error_code error;
  const auto endpoint = socket.remote_endpoint(error);
  return error ? "unknown" : endpoint.address().to_string();
}
std::string peer_of(const asio::local::stream_protocol::socket&) { return "unix"; }

void ready(asio::ip::tcp::socket& socket) {
  error_code error;
  socket.set_option(asio::ip::tcp::no_delay(true), error);
}
void ready(asio::local::stream_protocol::socket&) {}

/// One client too many: told so without waiting for it, and gone.
template <class Socket>
void turn_away(Socket& socket) {
  static const std::string answer = [] {
    const Response full = problem(503, "too many connections");
    return "HTTP/1.1 503 Service Unavailable\r\nContent-Type: application/problem+json\r\nRetry-After: 5\r\nConnection: "
           "close\r\nContent-Length: " +
           std::to_string(full.body.size()) + "\r\n\r\n" + full.body;
  }();
  error_code error;
  socket.non_blocking(true, error);
  socket.write_some(asio::buffer(answer), error);
  socket.shutdown(Socket::shutdown_send, error);
}

Status check_reach(const std::vector<ServerOptions::Tcp>& tcp, bool tokens) {
  for (const auto& at : tcp)
    if (!tokens && !is_loopback(at.address))
      return Error{ErrorKind::usage,
                   "listening at " + at.address + ", which others can reach, needs tokens: make one, or listen at 127.0.0.1 only"};
  return Ok{};
}

}  // namespace

class Server::Impl : public std::enable_shared_from_this<Server::Impl> {
 public:
  Impl(asio::io_context& io, Router router, ServerOptions options, std::vector<std::string> names)
      : house(std::make_shared<House>(io, std::move(router), std::move(options), std::move(names))), timer(io), pause(io) {}

  Status listen() {
    for (const auto& at : house->options.tcp) {
      auto acceptor = listen_tcp(house->io, at);
      if (!acceptor) return acceptor.error();
      tcp.push_back(acceptor.take());
    }
    if (house->options.unix_socket.empty()) return Ok{};
    auto listener = UnixListener::open(house->io, house->options.unix_socket);
    if (!listener) return listener.error();
    unix_socket.emplace(listener.take());
    return Ok{};
  }

  void open() {
    house->ended = [weak = weak_from_this()](Connection* connection) {
      if (const auto self = weak.lock()) self->end(connection);
    };
    for (auto& acceptor : tcp) accept(acceptor);
    if (unix_socket) accept(unix_socket->acceptor());
    if (house->options.ticks_itself) wait();
  }

  template <class Acceptor>
  void accept(Acceptor& acceptor) {
    acceptor.async_accept([this, &acceptor, weak = weak_from_this()](error_code error, auto socket) {
      const auto self = weak.lock();
      if (!self || house->stopping || !acceptor.is_open()) return;
      if (!error) admit(std::move(socket));
      // Out of descriptors, say: without the pause this would run in circles.
      if (!error || error == asio::error::connection_aborted) return accept(acceptor);
      pause.expires_after(std::chrono::milliseconds(100));
      pause.async_wait([self, &acceptor](error_code) {
        if (!self->house->stopping) self->accept(acceptor);
      });
    });
  }

  template <class Socket>
  void admit(Socket socket) {
    if (connections.size() >= house->options.limits.connections) {
      ++house->counters.refused;
      return turn_away(socket);
    }
    ++house->counters.accepted;
    ready(socket);
    std::string peer = peer_of(socket);
    const auto connection = std::make_shared<Connection>(house, Connection::Socket(std::move(socket)), std::move(peer));
    connections.emplace(connection.get(), connection);
    connection->start();
  }

  void end(Connection* connection) {
    connections.erase(connection);
    if (house->stopping && connections.empty()) stopped();
  }

  void stopped() {
    error_code error;
    timer.cancel(error);
    if (done) asio::post(house->io, std::exchange(done, {}));
  }

  void wait() {
    timer.expires_after(std::chrono::milliseconds(250));
    timer.async_wait([this, weak = weak_from_this()](error_code error) {
      const auto self = weak.lock();
      if (error || !self) return;
      tick();
      wait();
    });
  }

  void tick() {
    const Instant now = house->options.clock();
    const auto all = connections;  // ending one changes the table
    for (const auto& [key, connection] : all) connection->sweep(now);
    house->hub.sweep(now);
    house->site.rate().sweep(now);
    if (house->stopping && now >= stop_by && !connections.empty()) {
      cut_all();
      stopped();
    }
  }

  void stop(std::function<void()> then) {
    done = std::move(then);
    if (house->stopping) return;
    house->stopping = true;
    stop_by = house->options.clock() + house->options.limits.stop_time;
    close_listeners();
    const auto all = connections;
    for (const auto& [key, connection] : all) connection->finish();
    if (connections.empty()) stopped();
  }

  void close_listeners() {
    error_code error;
    for (auto& acceptor : tcp) acceptor.close(error);
    if (unix_socket) unix_socket->acceptor().close(error);
    pause.cancel(error);
  }

  void cut_all() {
    const auto all = std::exchange(connections, {});
    for (const auto& [key, connection] : all) connection->cut();
  }

  std::shared_ptr<House> house;
  std::vector<asio::ip::tcp::acceptor> tcp;
  std::optional<UnixListener> unix_socket;
  asio::steady_timer timer, pause;
  std::unordered_map<Connection*, std::shared_ptr<Connection>> connections;
  Instant stop_by{};
  std::function<void()> done;
};

Server::Server(std::shared_ptr<Impl> impl) : impl_(std::move(impl)) {}

Server::~Server() {
  impl_->house->stopping = true;
  impl_->close_listeners();
  error_code error;
  impl_->timer.cancel(error);
  impl_->cut_all();
}

Result<std::unique_ptr<Server>> Server::start(asio::io_context& io, Router router, ServerOptions options) {
  if (auto status = check_reach(options.tcp, !options.tokens.empty()); !status) return status.error();
  std::vector<std::string> names{"localhost", "127.0.0.1", "[::1]"};
  names.insert(names.end(), options.names.begin(), options.names.end());
  for (const auto& at : options.tcp) names.push_back(host_form(at.address));
  auto impl = std::make_shared<Impl>(io, std::move(router), std::move(options), std::move(names));
  if (auto status = impl->listen(); !status) return status.error();
  impl->open();
  return std::unique_ptr<Server>(new Server(std::move(impl)));
}

Hub& Server::hub() { return impl_->house->hub; }

std::vector<std::uint16_t> Server::ports() const {
  std::vector<std::uint16_t> out;
  for (const auto& acceptor : impl_->tcp) {
    error_code error;
    out.push_back(acceptor.local_endpoint(error).port());
  }
  return out;
}

ServerCounters Server::counters() const {
  ServerCounters out = impl_->house->counters;
  out.connections = impl_->connections.size();
  return out;
}

Status Server::replace_tokens(std::vector<TokenRecord> tokens) {
  if (auto status = check_reach(impl_->house->options.tcp, !tokens.empty()); !status) return status;
  impl_->house->site.doorkeeper().replace(std::move(tokens));
  return Ok{};
}

void Server::tick() { impl_->tick(); }
void Server::stop(std::function<void()> done) { impl_->stop(std::move(done)); }

}  // namespace midstick::http
