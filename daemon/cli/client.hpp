// The command line as the daemon's client: its API over a Unix socket or HTTP, one request at a time. Blocks.
//
// Addresses: unix:PATH or http://HOST[:PORT]. None given: $MIDSTICK_DAEMON, else the socket of a daemon started here
// (midstick-store/midstick.sock), else the system's (/run/midstick/midstick.sock). Errors: bench_missing when no daemon answers, usage for
// a request it refuses, with its own words.
#pragma once

#include <CLI/App.hpp>
#include <functional>
#include <memory>
#include <nlohmann/json_fwd.hpp>
#include <string>

#include "daemon/core/result.hpp"

namespace midstick::cli {

struct DaemonAddress {
  std::string address;  ///< empty: as above
  std::string token;    ///< empty: $MIDSTICK_TOKEN, if set
};

/// What every command has that asks a daemon.
struct DaemonOptions {
  DaemonAddress daemon;
  bool json{false};
};
CLI::App* daemon_command(CLI::App& program, const char* name, const char* about, DaemonOptions& options);

class Client {
 public:
  static Result<Client> open(const DaemonAddress& where);
  Client(Client&&) noexcept;
  ~Client();

  /// `target`: "/api/1/jobs". The answer's body; anything but 2xx is an Error with the problem's words.
  Result<std::string> get(const std::string& target);
  Result<nlohmann::json> get_json(const std::string& target);
  Result<nlohmann::json> post(const std::string& target, const nlohmann::json& body);
  /// Live messages until `on_message` returns false. A dropped connection is Error{bench_missing}.
  Status listen(const std::function<bool(const nlohmann::json&)>& on_message);

 private:
  class Wire;
  explicit Client(std::unique_ptr<Wire> wire);
  std::unique_ptr<Wire> wire_;
};

/// A path segment or query value, percent-encoded.
std::string encoded(const std::string& text);

}  // namespace midstick::cli
