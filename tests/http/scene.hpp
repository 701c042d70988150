// A server of the real contract with stub handlers, on an ephemeral port of loopback, run by the test's own io_context; and a raw client.
#pragma once

#include <boost/asio/io_context.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <functional>
#include <map>
#include <memory>
#include <nlohmann/json.hpp>
#include <string>
#include <vector>

#include "daemon/http/server.hpp"

namespace midstick::http::tests {

std::string contract_text();
Contract contract();
/// Every operation answers 200 with `{"operation": ID, ...parameters}`.
Handlers stubs(const Contract& contract);

struct Answer {
  int status{0};                               ///< 0: the connection ended without one
  std::map<std::string, std::string> headers;  ///< names in small letters
  std::string body;
  nlohmann::json json() const { return nlohmann::json::parse(body, nullptr, false); }
};

struct Scene {
  explicit Scene(ServerOptions options = {}, Handlers handlers = {});
  ~Scene();

  std::string get(const std::string& target, const std::string& fields = "") const { return request("GET", target, fields); }
  std::string request(const std::string& method, const std::string& target, const std::string& fields = "", const std::string& body = "",
                      const std::string& type = "application/json") const;
  /// Sends the bytes on a new connection, then half-closes unless `open`, and reads all answers until the server closes or `answers` are
  /// there.
  std::vector<Answer> raw(const std::string& bytes, std::size_t answers = 1);
  Answer ask(const std::string& bytes) {
    auto all = raw(bytes);
    return all.empty() ? Answer{} : all.front();
  }
  void run_until(const std::function<bool()>& done);
  void pass(std::chrono::seconds time);  ///< the clocks go on and the server ticks

  boost::asio::io_context io;
  Instant now{std::chrono::hours(1)};
  WallTime wall{std::chrono::sys_days(std::chrono::year(2026) / 11 / 25)};
  std::unique_ptr<Server> server;
  std::uint16_t port{0};
};

boost::asio::ip::tcp::socket connect(boost::asio::io_context& io, std::uint16_t port);

}  // namespace midstick::http::tests
