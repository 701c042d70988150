#include "daemon/http/target.hpp"

#include <algorithm>
#include <charconv>
#include <nlohmann/json.hpp>

namespace midstick::http {
namespace {

/// The text behind the escapes; nothing when it is broken or holds what no name here can hold.
std::optional<std::string> decoded(std::string_view text, bool plus_is_space) {
  std::string out;
  for (std::size_t at = 0; at < text.size(); ++at) {
    if (text[at] != '%') {
      out += plus_is_space && text[at] == '+' ? ' ' : text[at];
      continue;
    }
    unsigned value = 0;
    const char* digits = text.data() + at + 1;
    if (at + 2 >= text.size() || std::from_chars(digits, digits + 2, value, 16).ptr != digits + 2) return std::nullopt;
    out += static_cast<char>(value);
    at += 2;
  }
  const auto control = [](unsigned char c) { return c < 0x20 || c == 0x7f; };
  if (std::ranges::any_of(out, control) || !is_utf8(out)) return std::nullopt;
  return out;
}

Response bad(std::string detail) { return problem(400, "the request's target " + std::move(detail)); }

std::optional<Response> parse_path(std::string_view text, Target& out) {
  out.path = "/";
  if (text.size() == 1) return std::nullopt;
  for (std::size_t at = 1; at <= text.size();) {
    const std::size_t end = std::min(text.find('/', at), text.size());
    const auto segment = decoded(text.substr(at, end - at), false);
    if (!segment) return bad("has a broken escape, a control character or text that is not UTF-8 in its path");
    if (*segment == "." || *segment == ".." || segment->find_first_of("/\\") != std::string::npos)
      return bad("has a segment that is . or .. or holds a slash or backslash");
    out.segments.push_back(*segment);
    at = end + 1;
  }
  for (const auto& segment : out.segments) out.path += (out.path.size() > 1 ? "/" : "") + segment;
  return std::nullopt;
}

std::optional<Response> parse_query(std::string_view text, Target& out) {
  for (std::size_t at = 0; at < text.size();) {
    const std::size_t end = std::min(text.find('&', at), text.size());
    const std::string_view pair = text.substr(at, end - at);
    at = end + 1;
    if (pair.empty()) continue;
    const std::size_t equals = std::min(pair.find('='), pair.size());
    const auto name = decoded(pair.substr(0, equals), true);
    const auto value = decoded(pair.substr(std::min(equals + 1, pair.size())), true);
    if (!name || !value) return bad("has a broken escape, a control character or text that is not UTF-8 in its query");
    out.query.emplace_back(*name, *value);
  }
  return std::nullopt;
}

}  // namespace

bool is_utf8(std::string_view text) {
  try {
    (void)nlohmann::json(text).dump();
    return true;
  } catch (const nlohmann::json::type_error&) {
    return false;
  }
}

std::optional<Response> parse_target(std::string_view text, Target& out) {
  if (text.size() > kMaxTarget) return problem(414, "the request's target is longer than " + std::to_string(kMaxTarget) + " bytes");
  if (text.empty() || text[0] != '/') return bad("must be a path that begins with /");
  const auto outside = [](unsigned char c) { return c <= 0x20 || c >= 0x7f || c == '#' || c == '\\'; };
  if (std::ranges::any_of(text, outside)) return bad("has characters that must be percent-encoded");
  const std::size_t mark = std::min(text.find('?'), text.size());
  if (auto refusal = parse_path(text.substr(0, mark), out)) return refusal;
  return mark == text.size() ? std::nullopt : parse_query(text.substr(mark + 1), out);
}

}  // namespace midstick::http
