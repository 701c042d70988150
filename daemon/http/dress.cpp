// What every answer carries beside its body: see Site::dress.
#include <algorithm>
#include <system_error>

#include "daemon/http/site.hpp"

namespace midstick::http {
namespace {

/// Does If-None-Match name this ETag? Weak comparison, as RFC 9110 13.1.2 has it.
bool names(std::string_view if_none_match, const std::string& etag) {
  for (std::size_t at = 0; at < if_none_match.size();) {
    const std::size_t end = std::min(if_none_match.find(',', at), if_none_match.size());
    std::string_view one = if_none_match.substr(at, end - at);
    at = end + 1;
    while (one.starts_with(' ')) one.remove_prefix(1);
    while (one.ends_with(' ')) one.remove_suffix(1);
    if (one.starts_with("W/")) one.remove_prefix(2);
    if (one == "*" || one == etag) return true;
  }
  return false;
}

bool plain(std::string_view text) {
  return std::ranges::none_of(text, [](unsigned char c) { return c < 0x20 || c == 0x7f; });
}

/// A name for Content-Disposition: nothing in it that a quoted string or a file system minds.
std::string safe_name(const std::string& name) {
  std::string out = name;
  std::ranges::replace_if(
      out, [](unsigned char c) { return c < 0x20 || c >= 0x7f || c == '"' || c == '\\' || c == '/'; }, '_');
  return out;
}

/// Length and ETag of a file; false when it cannot be sent. Kept runs are never changed in place, so that size and time name the content.
bool look_at(const std::filesystem::path& file, std::uint64_t& size, std::string& etag) {
  std::error_code error;
  if (!std::filesystem::is_regular_file(file, error)) return false;
  size = std::filesystem::file_size(file, error);
  if (error) return false;
  const auto time = std::filesystem::last_write_time(file, error);
  if (error) return false;
  etag = "\"" +
         sha256_hex(file.string() + " " + std::to_string(size) + " " + std::to_string(time.time_since_epoch().count())).substr(0, 32) +
         "\"";
  return true;
}

}  // namespace

Outgoing Site::dress(const Head& head, Response response) const {
  Outgoing out;
  std::string etag;
  if (!response.file.empty() && !look_at(response.file, out.size, etag)) response = problem(404, "the file is no longer there");
  out.status = response.status;
  out.head_only = head.method == "HEAD";
  if (response.file.empty()) {
    out.size = response.body.size();
    const std::string& names_it = response.version.empty() ? response.body : response.version;
    if (response.status == 200 || response.status == 201) etag = "\"" + sha256_hex(names_it).substr(0, 32) + "\"";
    out.body = std::move(response.body);
    out.lease = std::move(response.lease);
  } else {
    out.file = response.file;
  }
  const auto add = [&](std::string name, std::string value) { out.headers.emplace_back(std::move(name), std::move(value)); };
  if (!etag.empty()) add("ETag", etag);
  if (!etag.empty() && (head.method == "GET" || head.method == "HEAD") && names(head.if_none_match, etag)) out.status = 304;
  if (out.status == 304 || out.status == 204) {
    out.body.clear();
    out.file.clear();
    out.size = 0;
    out.head_only = true;
  } else {
    add("Content-Type", response.type);
  }
  if (!response.save_as.empty()) add("Content-Disposition", "attachment; filename=\"" + safe_name(response.save_as) + "\"");
  add("Content-Security-Policy",
      response.policy.empty() ? "default-src 'self'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'" : response.policy);
  add("X-Content-Type-Options", "nosniff");
  add("Referrer-Policy", "no-referrer");
  add("Cross-Origin-Resource-Policy", "same-origin");
  if (!response.headers.contains("Cache-Control")) add("Cache-Control", "no-store");
  for (const auto& [name, value] : response.headers)
    if (plain(name) && plain(value)) add(name, value);
  return out;
}

}  // namespace midstick::http
