#include "daemon/http/tokens.hpp"

#include <date/date.h>
#include <openssl/crypto.h>
#include <openssl/evp.h>
#include <openssl/rand.h>

#include <algorithm>
#include <array>
#include <nlohmann/json.hpp>
#include <sstream>

#include "daemon/http/body.hpp"

namespace midstick::http {
namespace {

using nlohmann::json;
using namespace std::chrono_literals;

constexpr std::size_t kMaxSessions = 256;
constexpr auto kSessionLife = 12h;

std::string hex(const unsigned char* bytes, std::size_t size) {
  static constexpr char digits[] = "0123456789abcdef";
  std::string out;
  for (std::size_t i = 0; i < size; ++i) {
    out += digits[bytes[i] >> 4];
    out += digits[bytes[i] & 15];
  }
  return out;
}

/// 256 random bits as 64 hex digits.
std::optional<std::string> random_key() {
  std::array<unsigned char, 32> bytes{};
  if (RAND_bytes(bytes.data(), static_cast<int>(bytes.size())) != 1) return std::nullopt;
  return hex(bytes.data(), bytes.size());
}

bool equal(std::string_view a, std::string_view b) { return a.size() == b.size() && CRYPTO_memcmp(a.data(), b.data(), a.size()) == 0; }

/// RFC 3339, any offset; nothing when it is not that, or no such day or time.
std::optional<WallTime> instant_of(std::string text) {
  // The library is lenient about digits left out; the standard is not.
  constexpr std::string_view shape = "0000-00-00T00:00:00";
  if (text.size() <= shape.size() || text.size() > 40) return std::nullopt;
  for (std::size_t i = 0; i < shape.size(); ++i) {
    const bool digit = text[i] >= '0' && text[i] <= '9';
    if (shape[i] == '0' ? !digit : text[i] != shape[i]) return std::nullopt;
  }
  if (text.back() == 'Z') text.replace(text.size() - 1, 1, "+00:00");
  if (text[text.size() - 6] != '+' && text[text.size() - 6] != '-') return std::nullopt;
  std::istringstream in(text);
  date::sys_time<std::chrono::microseconds> out;
  in >> date::parse("%FT%T%Ez", out);
  if (in.fail() || in.peek() != std::istringstream::traits_type::eof()) return std::nullopt;
  return std::chrono::time_point_cast<WallTime::duration>(out);
}

std::string text_of(WallTime at) { return date::format("%FT%TZ", std::chrono::floor<std::chrono::seconds>(at)); }

/// The record, or what is wrong with it.
Result<TokenRecord> read_record(const json& node) {
  const auto wrong = [](const std::string& what) { return Error{ErrorKind::bad_file, what}; };
  if (!node.is_object()) return wrong("expected an object");
  for (const auto& [key, value] : node.items())
    if (key != "name" && key != "scope" && key != "sha256" && key != "expires")
      return wrong("unknown key \"" + key + "\"; expected name, scope, sha256, expires");
  for (const char* key : {"name", "scope", "sha256"})
    if (!node.contains(key) || !node[key].is_string()) return wrong("\"" + std::string(key) + "\" must be a string");
  TokenRecord out{node["name"], Scope::read, node["sha256"], std::nullopt};
  const auto scope = scope_of(node["scope"].get<std::string>());
  if (!scope) return wrong("\"scope\" must be read, run or admin");
  out.scope = *scope;
  if (out.name.empty()) return wrong("\"name\" must not be empty");
  const auto digit = [](char c) { return (c >= '0' && c <= '9') || (c >= 'a' && c <= 'f'); };
  if (out.sha256.size() != 64 || !std::ranges::all_of(out.sha256, digit)) return wrong("\"sha256\" must be 64 hex digits in small letters");
  if (!node.contains("expires")) return wrong("\"expires\" is missing: a time by RFC 3339, or null for never");
  if (node["expires"].is_null()) return out;
  if (node["expires"].is_string()) out.expires = instant_of(node["expires"]);
  if (!out.expires) return wrong("\"expires\" must be a time by RFC 3339 such as 2027-01-31T00:00:00Z, or null for never");
  return out;
}

}  // namespace

Result<std::vector<TokenRecord>> read_tokens(std::string_view text, const std::string& path) {
  const auto wrong = [&](const std::string& what) { return Error{ErrorKind::bad_file, path + ": " + what}; };
  const auto document = parse_body(text);
  if (!document) return wrong(document.error().message);
  const json& value = document.value();
  if (!value.is_object() || value.size() != 1 || !value.contains("tokens") || !value["tokens"].is_array())
    return wrong("expected an object with the one key \"tokens\", an array");
  std::vector<TokenRecord> out;
  for (std::size_t i = 0; i < value["tokens"].size(); ++i) {
    auto record = read_record(value["tokens"][i]);
    const std::string place = "/tokens/" + std::to_string(i) + ": ";
    if (!record) return wrong(place + record.error().message);
    const auto same = [&](const TokenRecord& other) { return other.name == record->name || other.sha256 == record->sha256; };
    if (std::ranges::any_of(out, same)) return wrong(place + "an earlier token has the same name or hash");
    out.push_back(record.take());
  }
  return out;
}

std::string token_record_json(const TokenRecord& record) {
  return json{{"name", record.name},
              {"scope", name_of(record.scope)},
              {"sha256", record.sha256},
              {"expires", record.expires ? json(text_of(*record.expires)) : json()}}
      .dump();
}

Result<NewToken> new_token(std::string name, Scope scope, std::optional<WallTime> expires) {
  const auto key = random_key();
  if (!key) return Error{ErrorKind::io, "the system gives no random numbers for a token"};
  return NewToken{*key, {std::move(name), scope, sha256_hex(*key), expires}};
}

const TokenRecord* Doorkeeper::record_of(std::string_view sha256) const {
  const TokenRecord* found = nullptr;
  for (const TokenRecord& record : records_)  // all of them, so that the time tells nothing
    if (equal(record.sha256, sha256)) found = &record;
  return found;
}

std::optional<Doorkeeper::Holder> Doorkeeper::by_token(std::string_view token, WallTime now, bool* expired) const {
  const TokenRecord* record = record_of(sha256_hex(token));
  const bool late = record && record->expires && *record->expires <= now;
  if (expired) *expired = late;
  if (!record || late) return std::nullopt;
  return Holder{record->name, record->scope};
}

std::optional<std::string> Doorkeeper::open_session(std::string_view token, WallTime now) {
  if (!by_token(token, now)) return std::nullopt;
  const auto key = random_key();
  if (!key) return std::nullopt;
  if (sessions_.size() >= kMaxSessions) sessions_.pop_front();
  sessions_.push_back({sha256_hex(*key), sha256_hex(token), now + kSessionLife});
  return key;
}

std::optional<Doorkeeper::Holder> Doorkeeper::by_session(std::string_view key, WallTime now, bool* expired) const {
  const std::string hash = sha256_hex(key);
  const Session* found = nullptr;
  for (const Session& session : sessions_)
    if (equal(session.key_sha256, hash)) found = &session;
  const TokenRecord* record = found ? record_of(found->token_sha256) : nullptr;
  const bool late = found && (found->ends <= now || (record && record->expires && *record->expires <= now));
  if (expired) *expired = late;
  if (!record || late) return std::nullopt;
  return Holder{record->name, record->scope};
}

void Doorkeeper::close_session(std::string_view key) {
  const std::string hash = sha256_hex(key);
  std::erase_if(sessions_, [&](const Session& session) { return equal(session.key_sha256, hash); });
}

std::string sha256_hex(std::string_view bytes) {
  std::array<unsigned char, EVP_MAX_MD_SIZE> digest{};
  unsigned size = 0;
  if (EVP_Digest(bytes.data(), bytes.size(), digest.data(), &size, EVP_sha256(), nullptr) != 1) std::abort();  // only without memory
  return hex(digest.data(), size);
}

std::string_view name_of(Scope scope) { return scope == Scope::admin ? "admin" : scope == Scope::run ? "run" : "read"; }

std::optional<Scope> scope_of(std::string_view name) {
  if (name == "read") return Scope::read;
  if (name == "run") return Scope::run;
  if (name == "admin") return Scope::admin;
  return std::nullopt;
}

}  // namespace midstick::http
