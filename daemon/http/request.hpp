// One request, after every check of the contract: what a handler sees. Plain values; no thread, no socket.
#pragma once

#include <cstdint>
#include <map>
#include <memory>
#include <nlohmann/json_fwd.hpp>
#include <optional>
#include <string>
#include <string_view>

namespace midstick::http {

/// What a token allows; each also allows the ones before it.
enum class Scope { read, run, admin };

struct Request {
  std::string operation;  ///< operationId of the contract
  std::string path;       ///< as asked, percent-decoded once, without the query
  std::string client;     ///< peer's address without port, or "unix"
  std::string who;        ///< name of the token; "local" where none are configured
  Scope scope{Scope::read};
  /// Path and query parameters, decoded, valid by their schema, with the contract's defaults filled in.
  std::map<std::string, std::string, std::less<>> parameters;
  /// The body, valid by its schema; null pointer when the operation takes none.
  std::shared_ptr<const nlohmann::json> body;
  bool wants_websocket{false};

  bool has(std::string_view name) const { return parameters.contains(name); }
  /// The parameter's text; "" when it was not given.
  std::string text(std::string_view name) const;
  /// Of parameters whose schema is an integer or a number; nothing when it was not given.
  std::optional<std::int64_t> integer(std::string_view name) const;
  std::optional<double> number(std::string_view name) const;
};

}  // namespace midstick::http
