#include "daemon/cli/client.hpp"

#include <boost/asio/generic/stream_protocol.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/local/stream_protocol.hpp>
#include <boost/beast/core.hpp>
#include <boost/beast/http.hpp>
#include <boost/beast/websocket.hpp>
#include <CLI/CLI.hpp>
#include <cstdlib>
#include <filesystem>
#include <nlohmann/json.hpp>
#include <utility>

namespace midstick::cli {

namespace asio = boost::asio;
namespace beast = boost::beast;
namespace http = beast::http;
using nlohmann::json;
using Socket = asio::generic::stream_protocol::socket;

namespace {

constexpr const char* kHere = "midstick-store/midstick.sock";
constexpr const char* kSystem = "/run/midstick/midstick.sock";
constexpr std::uint64_t kMostBytes = std::uint64_t{1} << 31;  // a capture's VCD

std::string from_environment(const char* name) {
  const char* value = std::getenv(name);
  return value ? value : "";
}

std::string address_of(const DaemonAddress& where) {
  if (!where.address.empty()) return where.address;
  if (auto set = from_environment("MIDSTICK_DAEMON"); !set.empty()) return set;
  std::error_code ignored;
  return std::string("unix:") + (std::filesystem::exists(kHere, ignored) ? kHere : kSystem);
}

/// What a problem says (RFC 9457), with the place of each mistake.
std::string words_of(unsigned status, const std::string& body) {
  const json problem = json::parse(body, nullptr, false);
  if (!problem.is_object()) return "the daemon answered with status " + std::to_string(status);
  std::string text = problem.value("detail", problem.value("title", ""));
  if (status == 401) text += "; a token is given with --token or in $MIDSTICK_TOKEN";
  for (const auto& e : problem.value("errors", json::array())) text += "\n  " + e.value("pointer", "") + ": " + e.value("detail", "");
  return text;
}

}  // namespace

class Client::Wire {
 public:
  Wire(std::string address, std::string token) : address_(std::move(address)), token_(std::move(token)) {
    if (address_.starts_with("http://")) {
      const std::string rest = address_.substr(7, address_.find('/', 7) - 7);
      const auto colon = rest.rfind(':');
      host_ = rest.substr(0, colon);
      port_ = colon == std::string::npos ? "7357" : rest.substr(colon + 1);
    }
  }

  bool understood() const { return !host_.empty() || address_.starts_with("unix:"); }
  const std::string& address() const { return address_; }

  Socket connect() {
    if (host_.empty()) {
      asio::local::stream_protocol::socket socket(io_);
      socket.connect(asio::local::stream_protocol::endpoint(address_.substr(5)));
      return Socket(std::move(socket));
    }
    asio::ip::tcp::socket socket(io_);
    asio::connect(socket, asio::ip::tcp::resolver(io_).resolve(host_, port_));
    return Socket(std::move(socket));
  }

  template <class Request>
  void add_headers(Request& request) const {
    request.set(http::field::host, host_.empty() ? "localhost" : host_ + ":" + port_);
    request.set(http::field::user_agent, "midstick");
    if (!token_.empty()) request.set(http::field::authorization, "Bearer " + token_);
  }

  Result<std::string> ask(http::verb verb, const std::string& target, std::string body) try {
    http::request<http::string_body> request{verb, target, 11};
    add_headers(request);
    request.keep_alive(false);
    if (verb == http::verb::post) request.set(http::field::content_type, "application/json");
    request.body() = std::move(body);
    request.prepare_payload();
    Socket socket = connect();
    http::write(socket, request);
    beast::flat_buffer buffer;
    http::response_parser<http::string_body> response;
    response.body_limit(kMostBytes);
    http::read(socket, buffer, response);
    const unsigned status = response.get().result_int();
    if (status >= 200 && status < 300) return std::move(response.get().body());
    return Error{status >= 500 ? ErrorKind::io : ErrorKind::usage, words_of(status, response.get().body())};
  } catch (const boost::system::system_error& e) {
    return gone(e.code().message());
  }

  Error gone(const std::string& why) const {
    return {ErrorKind::bench_missing,
            "no daemon answers at " + address_ + " (" + why + "); start midstickd, or name another with --daemon"};
  }

 private:
  asio::io_context io_;
  std::string address_, token_, host_, port_;
};

Client::Client(std::unique_ptr<Wire> wire) : wire_(std::move(wire)) {}
Client::Client(Client&&) noexcept = default;
Client::~Client() = default;

Result<Client> Client::open(const DaemonAddress& where) {
  auto wire = std::make_unique<Wire>(address_of(where), where.token.empty() ? from_environment("MIDSTICK_TOKEN") : where.token);
  if (!wire->understood())
    return Error{ErrorKind::usage, "daemon address \"" + wire->address() + "\"; expected unix:PATH or http://HOST:PORT"};
  return Client(std::move(wire));
}

Result<std::string> Client::get(const std::string& target) { return wire_->ask(http::verb::get, target, ""); }

Result<json> Client::get_json(const std::string& target) {
  auto body = get(target);
  if (!body) return body.error();
  json value = json::parse(*body, nullptr, false);
  if (value.is_discarded()) return Error{ErrorKind::bench_missing, wire_->address() + " does not answer as a midstickd does"};
  return value;
}

Result<json> Client::post(const std::string& target, const json& body) {
  auto answer = wire_->ask(http::verb::post, target, body.is_null() ? "" : body.dump());
  if (!answer) return answer.error();
  return json::parse(*answer, nullptr, false);
}

Status Client::listen(const std::function<bool(const json&)>& on_message) try {
  beast::websocket::stream<Socket> socket(wire_->connect());
  socket.set_option(beast::websocket::stream_base::decorator([this](beast::websocket::request_type& r) { wire_->add_headers(r); }));
  socket.handshake("localhost", "/api/1/live");
  for (;;) {
    beast::flat_buffer buffer;
    socket.read(buffer);
    const json message = json::parse(beast::buffers_to_string(buffer.data()), nullptr, false);
    if (message.is_object() && !on_message(message)) return Ok{};
  }
} catch (const boost::system::system_error& e) {
  return wire_->gone(e.code().message());
}

CLI::App* daemon_command(CLI::App& program, const char* name, const char* about, DaemonOptions& options) {
  auto* c = program.add_subcommand(name, about);
  c->add_option("--daemon", options.daemon.address, "unix:PATH or http://HOST:PORT; default: $MIDSTICK_DAEMON, else the local socket");
  c->add_option("--token", options.daemon.token, "Token, where the daemon asks for one; better in $MIDSTICK_TOKEN");
  c->add_flag("--json", options.json, "Print the daemon's answer as JSON");
  return c;
}

std::string encoded(const std::string& text) {
  constexpr char kHex[] = "0123456789ABCDEF";
  std::string out;
  for (const char c : text) {
    const auto u = static_cast<unsigned char>(c);
    const bool plain =
        (u >= '0' && u <= '9') || (u >= 'A' && u <= 'Z') || (u >= 'a' && u <= 'z') || c == '-' || c == '.' || c == '_' || c == '~';
    if (plain)
      out += c;
    else
      (out += '%') += kHex[u >> 4], out += kHex[u & 15];
  }
  return out;
}

}  // namespace midstick::cli
