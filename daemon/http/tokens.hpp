// Who may do what: tokens kept only as SHA-256, and browser sessions made from them.
//
// The file: {"tokens": [{"name": ..., "scope": "read"|"run"|"admin", "sha256": 64 hex digits, "expires": RFC 3339 or null}]}. A token is
// 256 random bits, so a plain hash is enough (there is nothing to guess). Hashes are compared in constant time. Server's thread only.
//
// A browser can set no Authorization header on a WebSocket or a download link. So a page POSTs its token once to /api/1/session (as Bearer)
// and gets a cookie: 256 random bits of its own (never the token), HttpOnly, SameSite=Strict, forgotten at restart, after 12 h, and with
// its token.
#pragma once

#include <chrono>
#include <deque>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/core/result.hpp"
#include "daemon/http/request.hpp"

namespace midstick::http {

using WallTime = std::chrono::system_clock::time_point;

struct TokenRecord {
  std::string name;
  Scope scope{Scope::read};
  std::string sha256;               ///< of the token's text, 64 hex digits in small letters
  std::optional<WallTime> expires;  ///< nothing: never
};

/// bad_file with the place and what was expected. `path` is only for messages; an empty list is fine.
Result<std::vector<TokenRecord>> read_tokens(std::string_view text, const std::string& path);
/// One record as the file holds it.
std::string token_record_json(const TokenRecord& record);

struct NewToken {
  std::string token;   ///< to be shown once, kept by nobody here
  TokenRecord record;  ///< to be stored
};
/// io when the system has no random numbers.
Result<NewToken> new_token(std::string name, Scope scope, std::optional<WallTime> expires);

class Doorkeeper {
 public:
  explicit Doorkeeper(std::vector<TokenRecord> records) : records_(std::move(records)) {}

  bool open_to_all() const { return records_.empty(); }
  /// Replaces the tokens (reload); sessions of tokens that are gone end.
  void replace(std::vector<TokenRecord> records) { records_ = std::move(records); }

  struct Holder {
    std::string name;
    Scope scope{Scope::read};
  };
  /// By the token; nothing when it is unknown or expired (`expired` then says which).
  std::optional<Holder> by_token(std::string_view token, WallTime now, bool* expired = nullptr) const;
  /// A new session's key for the token's holder; nothing when the token is no good.
  std::optional<std::string> open_session(std::string_view token, WallTime now);
  std::optional<Holder> by_session(std::string_view key, WallTime now, bool* expired = nullptr) const;
  void close_session(std::string_view key);

 private:
  struct Session {
    std::string key_sha256, token_sha256;
    WallTime ends;
  };
  const TokenRecord* record_of(std::string_view sha256) const;

  std::vector<TokenRecord> records_;
  std::deque<Session> sessions_;  ///< at most 256, the oldest goes first
};

std::string sha256_hex(std::string_view bytes);
std::string_view name_of(Scope scope);
std::optional<Scope> scope_of(std::string_view name);

}  // namespace midstick::http
