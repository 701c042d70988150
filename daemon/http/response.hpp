// One answer, as a handler makes it. Plain values. The server adds Date, ETag, Content-Length, security headers, and answers HEAD and
// If-None-Match by itself.
#pragma once

#include <filesystem>
#include <functional>
#include <map>
#include <memory>
#include <nlohmann/json_fwd.hpp>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace midstick::http {

/// The request becomes a WebSocket that hears the hub (hub.hpp).
struct WebSocket {
  std::string greeting;                         ///< first message; "": none
  std::function<bool(std::string_view)> wants;  ///< by topic; empty: every message
};

struct Response {
  int status{200};
  std::string type{"application/json"};
  std::string body;
  std::filesystem::path file;   ///< not empty: streamed in place of `body`; gone or not a regular file: 404
  std::string version;          ///< not empty: names the content of `body`, which need not be hashed for its ETag: a large one takes long
  std::shared_ptr<void> lease;  ///< let go when the answer has gone out or cannot any more
  std::string save_as;          ///< not empty: Content-Disposition attachment under this name
  std::string policy;           ///< not empty: Content-Security-Policy in place of the server's own (report.html has its styles inside)
  std::map<std::string, std::string> headers;  ///< further ones, say Location; names and values without control characters
  std::optional<WebSocket> websocket;          ///< set: everything above is ignored
};

/// One mistake of a request; `pointer`: JSON pointer into the body, or the parameter's name.
struct Mistake {
  std::string pointer, detail;
};

Response json_response(const nlohmann::json& value, int status = 200);
/// RFC 9457 problem details; `detail` is one sentence a person can act on.
Response problem(int status, std::string detail, const std::vector<Mistake>& mistakes = {});
/// The status' name, as "Not Found"; "Problem" for one that has none.
std::string title_of(int status);

}  // namespace midstick::http
