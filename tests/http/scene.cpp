#include "tests/http/scene.hpp"

#include <gtest/gtest.h>

#include <boost/asio/read.hpp>
#include <boost/asio/write.hpp>
#include <boost/beast/core/flat_buffer.hpp>
#include <boost/beast/http.hpp>
#include <fstream>
#include <iterator>

namespace midstick::http::tests {

namespace asio = boost::asio;
namespace beast = boost::beast;

std::string contract_text() {
  std::ifstream in(MIDSTICK_CONTRACT);
  return {std::istreambuf_iterator<char>(in), {}};
}

Contract contract() {
  auto out = Contract::read(contract_text());
  EXPECT_TRUE(out.ok()) << (out.ok() ? "" : out.error().message);
  return out.take();
}

Handlers stubs(const Contract& contract) {
  Handlers out;
  for (const Operation& operation : contract.operations()) {
    if (operation.by_server) continue;
    const int status = operation.statuses.contains(200) ? 200 : 201;
    if (operation.statuses.contains(101))
      out[operation.id] = at_once([](const Request&) {
        Response live;
        live.websocket = WebSocket{"hello", {}};
        return live;
      });
    else
      out[operation.id] = at_once([status](const Request& request) {
        nlohmann::json value{{"operation", request.operation}, {"who", request.who}};
        for (const auto& [name, text] : request.parameters) value[name] = text;
        return json_response(value, status);
      });
  }
  return out;
}

Scene::Scene(ServerOptions options, Handlers handlers) {
  if (options.tcp.empty()) options.tcp = {{"127.0.0.1", 0}};
  options.clock = [this] { return now; };
  options.wall_clock = [this] { return wall; };
  options.ticks_itself = false;
  Contract agreed = contract();
  Handlers all = stubs(agreed);
  for (auto& [id, handler] : handlers) all[id] = std::move(handler);
  auto router = Router::make(std::move(agreed), std::move(all));
  if (!router) throw std::runtime_error(router.error().message);
  auto started = Server::start(io, router.take(), std::move(options));
  if (!started) throw std::runtime_error(started.error().message);
  server = started.take();
  port = server->ports().at(0);
}

Scene::~Scene() {
  server.reset();
  io.restart();
  io.poll();
}

std::string Scene::request(const std::string& method, const std::string& target, const std::string& fields, const std::string& body,
                           const std::string& type) const {
  std::string out = method + " " + target + " HTTP/1.1\r\nHost: localhost:" + std::to_string(port) + "\r\n" + fields;
  if (!body.empty()) out += "Content-Type: " + type + "\r\nContent-Length: " + std::to_string(body.size()) + "\r\n";
  return out + "\r\n" + body;
}

void Scene::run_until(const std::function<bool()>& done) {
  const auto until = std::chrono::steady_clock::now() + std::chrono::minutes(2);  // only so that a failing test ends
  while (!done() && std::chrono::steady_clock::now() < until) {
    io.restart();
    io.run_one_for(std::chrono::milliseconds(50));
  }
  ASSERT_TRUE(done()) << "nothing happened for 2 min";
}

void Scene::pass(std::chrono::seconds time) {
  now += time;
  wall += time;
  server->tick();
  io.restart();
  io.poll();
}

asio::ip::tcp::socket connect(asio::io_context& io, std::uint16_t port) {
  asio::ip::tcp::socket out(io);
  out.connect({asio::ip::make_address("127.0.0.1"), port});
  return out;
}

namespace {

/// Takes whole answers off the front of `text`. A HEAD's answer must be the last.
std::vector<Answer> parse(const std::string& text, bool head) {
  std::vector<Answer> out;
  for (std::size_t at = 0; at < text.size();) {
    beast::http::response_parser<beast::http::string_body> parser;
    parser.skip(head);
    parser.eager(true);
    boost::system::error_code error;
    const std::size_t used = parser.put(asio::buffer(text.data() + at, text.size() - at), error);
    if (error || !parser.is_done()) break;
    at += used;
    Answer answer{static_cast<int>(parser.get().result_int()), {}, parser.get().body()};
    for (const auto& field : parser.get()) {
      std::string name(field.name_string());
      std::ranges::transform(name, name.begin(), [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
      answer.headers[name] = std::string(field.value());
    }
    out.push_back(std::move(answer));
  }
  return out;
}

}  // namespace

std::vector<Answer> Scene::raw(const std::string& bytes, std::size_t answers) {
  auto socket = connect(io, port);
  bool closed = false;
  std::string got;
  std::array<char, 65536> piece{};
  asio::async_write(socket, asio::buffer(bytes), [](auto, auto) {});
  std::function<void()> read = [&] {
    socket.async_read_some(asio::buffer(piece), [&](boost::system::error_code error, std::size_t size) {
      got.append(piece.data(), size);
      closed = static_cast<bool>(error);
      if (!closed) read();
    });
  };
  read();
  const bool head = bytes.starts_with("HEAD ");
  run_until([&] { return closed || parse(got, head).size() >= answers; });
  boost::system::error_code ignored;
  socket.close(ignored);
  run_until([&] { return closed; });
  return parse(got, head);
}

}  // namespace midstick::http::tests
