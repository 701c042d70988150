#include "daemon/http/connection.hpp"

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/detached.hpp>
#include <boost/asio/post.hpp>
#include <boost/asio/redirect_error.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <boost/beast/http/file_body.hpp>

namespace midstick::http {

namespace asio = boost::asio;
namespace beast = boost::beast;
using boost::system::error_code;

namespace {

auto into(error_code& error) { return asio::redirect_error(asio::use_awaitable, error); }

Outgoing gone_file() {
  Outgoing out;
  const Response gone = problem(404, "the file is no longer there");
  out.status = gone.status;
  out.headers.emplace_back("Content-Type", gone.type);
  out.body = gone.body;
  out.size = gone.body.size();
  return out;
}

}  // namespace

House::House(asio::io_context& context, Router router, ServerOptions given, std::vector<std::string> names)
    : io(context),
      options(std::move(given)),
      site(std::move(router), options, std::move(names)),
      hub(options.hub, [&context](std::function<void()> soon) { asio::post(context, std::move(soon)); }) {}

Connection::Connection(std::shared_ptr<House> house, Socket socket, std::string client)
    : house_(std::move(house)),
      socket_(std::move(socket)),
      client_(std::move(client)),
      buffer_(house_->options.limits.header_bytes + house_->options.limits.body_bytes) {}

void Connection::enter(Phase phase, std::chrono::seconds time) {
  phase_ = phase;
  deadline_ = house_->options.clock() + time;
}

void Connection::count(const std::string& name, int status) { ++house_->counters.requests[{name, status}]; }

void Connection::start() {
  asio::co_spawn(
      house_->io, [self = shared_from_this()] { return self->serve(); },
      [self = shared_from_this()](const std::exception_ptr&) {
        self->cut();
        self->house_->ended(self.get());
      });
}

Connection::Task<> Connection::serve() {
  // Not `while (co_await ...) {}`: GCC 12 makes a trap of that.
  for (bool more = true; more;) more = co_await serve_one();
}

Connection::Task<bool> Connection::read(WireParser& parser, bool whole) {
  error_code error;
  if (whole)
    co_await beast::http::async_read(socket_, buffer_, parser, into(error));
  else
    co_await beast::http::async_read_header(socket_, buffer_, parser, into(error));
  if (!error) co_return true;
  auto refusal = late_ ? problem(408, "the request did not arrive in time") : refusal_of(error);
  if (refusal) co_await refuse(head_of(parser.get(), client_), std::move(*refusal), "-");
  co_return false;
}

/// Answers, and then gives the client the time to read that before the connection ends: unread bytes would make the system throw the
/// answer away.
Connection::Task<bool> Connection::refuse(const Head& head, Response response, const std::string& name) {
  Outgoing out = house_->site.dress(head, std::move(response));
  count(name, out.status);
  co_await send(std::move(out), false);
  co_await linger();
  co_return false;
}

Connection::Task<> Connection::linger() {
  error_code error;
  enter(Phase::lingering, std::chrono::seconds(2));
  socket_.shutdown(Socket::shutdown_send, error);
  std::array<char, 4096> sink{};
  for (std::size_t left = 1 << 20; !error && left > 0;) {
    const std::size_t got = co_await socket_.async_read_some(asio::buffer(sink), into(error));
    left -= std::min(left, got);
  }
}

Connection::Task<bool> Connection::serve_one() {
  const Limits& limits = house_->options.limits;
  error_code error;
  if (buffer_.size() == 0) {
    enter(Phase::idle, limits.idle_time);
    if (house_->stopping) co_return false;
    const std::size_t got = co_await socket_.async_read_some(buffer_.prepare(4096), into(error));
    if (error) co_return false;
    buffer_.commit(got);
  }
  enter(Phase::reading, limits.header_time);
  WireParser parser;
  set_limits(parser, limits);
  if (!co_await read(parser, false)) co_return false;
  const Head head = head_of(parser.get(), client_);
  std::string name;
  auto way = house_->site.admit(head, house_->options.clock(), house_->options.wall_clock(), name);
  if (auto* response = std::get_if<Response>(&way)) {
    if (!parser.is_done()) co_return co_await refuse(head, std::move(*response), name);
    Outgoing out = house_->site.dress(head, std::move(*response));
    count(name, out.status);
    co_return co_await send(std::move(out), parser.get().keep_alive());
  }
  auto admitted = std::get<Site::Admitted>(std::move(way));
  enter(Phase::reading, limits.header_time);
  if (!parser.is_done() && beast::iequals(parser.get()[beast::http::field::expect], "100-continue")) {
    static const std::string go_on = "HTTP/1.1 100 Continue\r\n\r\n";
    co_await asio::async_write(socket_, asio::buffer(go_on), into(error));
  }
  if (!co_await read(parser, true)) co_return false;
  std::optional<Response> response = house_->site.take_body(head, parser.get().body(), admitted);
  if (!response) response = co_await handle(std::move(admitted));
  if (response->websocket && head.wants_websocket) {
    count(name, 101);
    co_await live(parser.release(), std::move(*response->websocket));
    co_return false;
  }
  Outgoing out = house_->site.dress(head, std::move(*response));
  count(name, out.status);
  co_return co_await send(std::move(out), parser.get().keep_alive());
}

Connection::Task<Response> Connection::handle(Site::Admitted admitted) {
  phase_ = Phase::answering;
  deadline_.reset();  // the handler's own matter
  co_return co_await asio::async_initiate<decltype(asio::use_awaitable), void(Response)>(
      [this](auto done, Site::Admitted to) {
        // std::function wants to copy what it holds, and a coroutine's completion cannot be copied.
        const auto shared = std::make_shared<decltype(done)>(std::move(done));
        asio::io_context& io = house_->io;
        house_->site.run(std::move(to), [shared, &io, self = shared_from_this()](Response response) {
          asio::post(io, [shared, self, response = std::move(response)]() mutable { std::move (*shared)(std::move(response)); });
        });
      },
      asio::use_awaitable, std::move(admitted));
}

template <class Body>
Connection::Task<bool> Connection::send_message(beast::http::response<Body>& message, bool head_only) {
  beast::http::response_serializer<Body> serializer(message);
  if (head_only) serializer.split(true);
  error_code error;
  while (!error && !(head_only ? serializer.is_header_done() : serializer.is_done())) {
    enter(Phase::writing, house_->options.limits.write_time);  // anew with each piece, so that a long file may take long
    if (head_only)
      house_->counters.sent_bytes += co_await beast::http::async_write_header(socket_, serializer, into(error));
    else
      house_->counters.sent_bytes += co_await beast::http::async_write_some(socket_, serializer, into(error));
  }
  if (error == beast::http::error::end_of_stream) error = {};  // how Beast says that the connection ends with this answer
  co_return !error && message.keep_alive() && !last_;
}

Connection::Task<bool> Connection::send(Outgoing out, bool keep_alive) {
  keep_alive = keep_alive && !last_ && !house_->stopping;
  if (out.file.empty()) {
    beast::http::response<beast::http::string_body> message;
    fill(message, out, keep_alive);
    message.body() = std::move(out.body);  // a capture is large
    co_return co_await send_message(message, out.head_only);
  }
  beast::http::response<beast::http::file_body> message;
  error_code error;
  beast::http::file_body::value_type file;
  file.open(out.file.c_str(), beast::file_mode::scan, error);
  if (error || file.size() != out.size) {
    co_return co_await send(gone_file(), false);
  }
  message.body() = std::move(file);
  fill(message, out, keep_alive);
  co_return co_await send_message(message, out.head_only);
}

void Connection::sweep(Instant now) {
  if (!deadline_ || now < *deadline_) return;
  deadline_.reset();
  ++house_->counters.timed_out;
  late_ = phase_ == Phase::reading;
  if (!late_) return cut();
  error_code error;
  socket_.cancel(error);
}

void Connection::finish() {
  last_ = true;
  if (phase_ == Phase::idle) cut();
  if (phase_ != Phase::live || !live_) return;
  live_->async_close(beast::websocket::close_code::going_away, [self = shared_from_this()](error_code) { self->cut(); });
}

void Connection::cut() {
  error_code error;
  socket_.close(error);
}

Connection::Task<> Connection::live(WireRequest request, WebSocket how) {
  error_code error;
  enter(Phase::live, house_->options.limits.write_time);
  socket_.set_option(asio::socket_base::send_buffer_size(64 * 1024), error);  // so that a client who takes nothing is soon known for it
  live_.emplace(socket_);
  live_->read_message_max(4096);
  beast::websocket::permessage_deflate plain;  // no compression: small messages, and none of its memory for every client
  live_->set_option(plain);
  live_->control_callback([this](beast::websocket::frame_type, beast::string_view) {
    if (listener_) listener_->heard(house_->options.clock());
  });
  co_await live_->async_accept(request, into(error));
  if (error) co_return;
  if (house_->stopping) last_ = true;
  deadline_.reset();  // from here the hub's rule holds
  join(std::move(how));
  if (last_) finish();
  beast::flat_buffer ignored;
  while (!error) {
    co_await live_->async_read(ignored, into(error));  // nothing is expected; pongs and the end come this way
    ignored.clear();
    listener_->heard(house_->options.clock());
  }
  house_->hub.leave(listener_);
}

void Connection::join(WebSocket how) {
  // In the hub before the greeting goes out: no change after what the greeting tells can be missed.
  const std::weak_ptr<Connection> weak = weak_from_this();
  const auto with = [weak](void (Connection::*call)()) {
    return [weak, call] {
      if (const auto self = weak.lock()) (self.get()->*call)();
    };
  };
  const auto ping = [weak] {
    const auto self = weak.lock();
    if (!self || self->pinging_) return;
    self->pinging_ = true;
    self->live_->async_ping({}, [self](error_code) { self->pinging_ = false; });
  };
  listener_ =
      house_->hub.join(std::move(how.wants), {with(&Connection::write_next), with(&Connection::cut), ping}, house_->options.clock());
  live_->text(true);
  if (!how.greeting.empty()) listener_->greet(std::move(how.greeting));
  write_next();
}

void Connection::write_next() {
  if (busy_) return;
  const auto message = listener_->next(house_->options.clock());
  if (!message) return;
  busy_ = true;
  live_->async_write(asio::buffer(message->text), [self = shared_from_this(), message](error_code error, std::size_t sent) {
    self->busy_ = false;
    self->house_->counters.sent_bytes += sent;
    self->listener_->taken();
    if (!error) self->write_next();
  });
}

}  // namespace midstick::http
