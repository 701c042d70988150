#include "daemon/http/site.hpp"

#include <algorithm>
#include <atomic>
#include <nlohmann/json.hpp>

#include "daemon/http/body.hpp"

namespace midstick::http {
namespace {

constexpr std::string_view kCookie = "midstick_session";

std::string lower(std::string_view text) {
  std::string out(text);
  std::ranges::transform(out, out.begin(), [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
  return out;
}

bool changes_something(const Head& head) { return head.method != "GET" && head.method != "HEAD"; }

/// "Bearer TOKEN"; "" when it is not that.
std::string_view bearer(std::string_view authorization) {
  constexpr std::string_view scheme = "bearer ";
  if (authorization.size() <= scheme.size() || lower(authorization.substr(0, scheme.size())) != scheme) return {};
  return authorization.substr(scheme.size());
}

Response not_allowed(const std::vector<std::string>& methods) {
  std::string list;
  for (const auto& method : methods) list += (list.empty() ? "" : ", ") + method;
  Response out = problem(405, "this path knows only " + list);
  out.headers["Allow"] = list;
  return out;
}

Response unauthorized(const std::string& detail) {
  Response out = problem(401, detail);
  out.headers["WWW-Authenticate"] = "Bearer";
  return out;
}

Response no_content() {
  Response out;
  out.status = 204;
  out.type = "";
  return out;
}

/// Answers 500 by itself when it goes away unasked.
class Once {
 public:
  explicit Once(Reply reply) : reply_(std::move(reply)) {}
  ~Once() { give(problem(500, "the request was dropped without an answer")); }
  void give(Response response) {
    if (!given_.exchange(true)) reply_(std::move(response));
  }

 private:
  Reply reply_;
  std::atomic<bool> given_{false};
};

}  // namespace

std::string cookie_value(std::string_view header, std::string_view name) {
  for (std::size_t at = 0; at < header.size();) {
    const std::size_t end = std::min(header.find(';', at), header.size());
    std::string_view pair = header.substr(at, end - at);
    while (pair.starts_with(' ')) pair.remove_prefix(1);
    if (pair.size() > name.size() && pair.starts_with(name) && pair[name.size()] == '=') return std::string(pair.substr(name.size() + 1));
    at = end + 1;
  }
  return "";
}

Site::Site(Router router, const ServerOptions& options, std::vector<std::string> names)
    : router_(std::move(router)),
      names_(std::move(names)),
      assets_(options.assets),
      doorkeeper_(options.tokens),
      rate_(options.limits.requests_per_second, options.limits.burst) {
  for (auto& name : names_) name = lower(name);
}

std::optional<Response> Site::check_host(const Head& head) const {
  if (head.twice) return problem(400, "Host, Authorization, Origin and Content-Type may stand in a request only once");
  if (!head.host) return head.http_1_0 ? std::nullopt : std::optional(problem(400, "the request has no Host"));
  if (head.client == "unix") return std::nullopt;
  // A page of a foreign name that resolves to this machine would otherwise be of our own origin (DNS rebinding).
  const std::string host = lower(*head.host);
  const std::size_t bracket = host.find(']');
  const std::size_t colon = host.find(':', host.starts_with('[') && bracket != std::string::npos ? bracket : 0);
  if (std::ranges::find(names_, host.substr(0, colon)) != names_.end()) return std::nullopt;
  return problem(421, "no such host here; names that this daemon answers to are set in its configuration");
}

std::optional<Response> Site::check_origin(const Head& head) const {
  if (!changes_something(head) && !head.wants_websocket) return std::nullopt;
  if (!head.origin.empty()) {
    const std::string own = lower(head.host.value_or("")), origin = lower(head.origin);
    if (!own.empty() && (origin == "http://" + own || origin == "https://" + own)) return std::nullopt;
    return problem(403, "requests that change something, and WebSockets, are taken only from the daemon's own page");
  }
  if (head.sec_fetch_site.empty() || head.sec_fetch_site == "same-origin" || head.sec_fetch_site == "none") return std::nullopt;
  return problem(403, "the request comes from a page of another origin");
}

std::variant<Response, Doorkeeper::Holder> Site::who(const Head& head, WallTime wall, bool by_token_only) const {
  if (doorkeeper_.open_to_all()) return Doorkeeper::Holder{"local", Scope::admin};
  bool expired = false;
  if (!head.authorization.empty()) {
    const auto token = bearer(head.authorization);
    if (token.empty()) return unauthorized("Authorization must be: Bearer TOKEN");
    if (auto holder = doorkeeper_.by_token(token, wall, &expired)) return *holder;
    return unauthorized(expired ? "the token has expired" : "the token is unknown");
  }
  const std::string key = by_token_only ? "" : cookie_value(head.cookie, kCookie);
  if (key.empty()) return unauthorized("a token is needed: Authorization: Bearer TOKEN");
  if (auto holder = doorkeeper_.by_session(key, wall, &expired)) return *holder;
  return unauthorized(expired ? "the session has expired" : "the session is unknown");
}

Response Site::open_session(const std::string& token, WallTime wall) {
  Response out = no_content();
  if (doorkeeper_.open_to_all()) return out;
  const auto key = doorkeeper_.open_session(token, wall);
  if (!key) return problem(500, "no session could be opened");
  out.headers["Set-Cookie"] = std::string(kCookie) + "=" + *key + "; HttpOnly; SameSite=Strict; Path=/; Max-Age=43200";
  return out;
}

Response Site::close_session(const std::string& key) {
  Response out = no_content();
  doorkeeper_.close_session(key);
  out.headers["Set-Cookie"] = std::string(kCookie) + "=; HttpOnly; SameSite=Strict; Path=/; Max-Age=0";
  return out;
}

const Asset* Site::asset(std::string_view path) const {
  const auto found = std::ranges::find(assets_, path == "/" ? "/index.html" : path, &Asset::path);
  return found == assets_.end() ? nullptr : &*found;
}

std::variant<Response, Site::Admitted> Site::admit(const Head& head, Instant now, WallTime wall, std::string& name) {
  name = "-";
  if (auto refusal = check_host(head)) return *refusal;
  if (head.client != "unix")
    if (const auto seconds = rate_.take(head.client, now)) {
      Response out = problem(429, "too many requests from this address");
      out.headers["Retry-After"] = std::to_string(*seconds);
      return out;
    }
  if (auto refusal = check_origin(head)) return *refusal;
  Target target;
  if (auto refusal = parse_target(head.target, target)) return *refusal;
  if (const Asset* found = asset(target.path)) {
    name = "asset";
    if (changes_something(head)) return not_allowed({"GET", "HEAD"});
    Response out;
    out.type = found->type;
    out.body = found->bytes;
    out.headers["Cache-Control"] = "no-cache";  // may be kept, but must be asked for again; the ETag makes that cheap
    return out;
  }
  Router::Match match = router_.match(head.method, target.segments);
  if (!match.operation && !match.allowed.empty()) return not_allowed(match.allowed);
  if (!match.operation) return problem(404, "there is nothing at this path");
  name = match.operation->id;
  return to_operation(head, std::move(match), target, wall);
}

std::variant<Response, Site::Admitted> Site::to_operation(const Head& head, Router::Match match, const Target& target, WallTime wall) {
  const bool opens = match.operation->id == kOpenSession;
  auto holder = who(head, wall, opens);
  if (auto* refusal = std::get_if<Response>(&holder)) return std::move(*refusal);
  Admitted out{
      match.operation, match.handler, {}, opens ? std::string(bearer(head.authorization)) : cookie_value(head.cookie, kCookie), wall};
  out.request = {match.operation->id,
                 target.path,
                 head.client,
                 std::get<Doorkeeper::Holder>(holder).name,
                 std::get<Doorkeeper::Holder>(holder).scope,
                 {},
                 nullptr,
                 head.wants_websocket};
  if (out.request.scope < match.operation->scope)
    return problem(403, "this needs a token of scope " + std::string(name_of(match.operation->scope)) + "; yours is " +
                            std::string(name_of(out.request.scope)));
  if (auto refusal = take_parameters(match, target, out.request)) return *refusal;
  if (match.operation->statuses.contains(101) && !head.wants_websocket) return problem(400, "this is a WebSocket; ask with an upgrade");
  if (head.wants_websocket && (!match.operation->statuses.contains(101) || head.method != "GET"))
    return problem(400, "there is no WebSocket at this path");
  return out;
}

std::optional<Response> Site::take_parameters(const Router::Match& match, const Target& target, Request& request) const {
  // A path parameter that cannot be names nothing: 404, not 400.
  for (const Parameter& parameter : match.operation->path_parameters) {
    const std::string& text = match.path_parameters.at(parameter.name);
    if (const auto mistake = router_.contract().parameter_misfit(parameter, text))
      return problem(404, "there is nothing at this path: " + parameter.name + " cannot be so", {*mistake});
    request.parameters[parameter.name] = text;
  }
  std::vector<Mistake> mistakes;
  const auto& known = match.operation->query_parameters;
  for (const auto& [name, text] : target.query) {
    const auto parameter = std::ranges::find(known, name, &Parameter::name);
    if (parameter == known.end()) {
      std::string list;
      for (const auto& each : known) list += (list.empty() ? "" : ", ") + each.name;
      mistakes.push_back({name, "unknown parameter; expected " + (list.empty() ? "none" : "one of: " + list)});
    } else if (request.has(name)) {
      mistakes.push_back({name, "given twice"});
    } else {
      if (const auto mistake = router_.contract().parameter_misfit(*parameter, text)) mistakes.push_back(*mistake);
      request.parameters[name] = text;
    }
  }
  for (const Parameter& parameter : known)
    if (!request.has(parameter.name)) {
      if (parameter.fallback) request.parameters[parameter.name] = *parameter.fallback;
      if (parameter.required) mistakes.push_back({parameter.name, "missing"});
    }
  if (mistakes.empty()) return std::nullopt;
  return problem(400, "the query does not say what it must", mistakes);
}

std::optional<Response> Site::take_body(const Head& head, std::string_view body, Admitted& admitted) const {
  const Operation& operation = *admitted.operation;
  if (!operation.body_schema) return body.empty() ? std::nullopt : std::optional(problem(400, "this operation takes no body"));
  if (body.empty() && !operation.body_required) return std::nullopt;
  if (body.empty()) return problem(400, "the body is missing", {{"", "expected JSON"}});
  const std::string type = lower(std::string_view(head.content_type).substr(0, head.content_type.find_first_of("; ")));
  if (type != "application/json") return problem(415, "the body must be application/json");
  if (!head.content_encoding.empty() && lower(head.content_encoding) != "identity") return problem(415, "the body must not be compressed");
  auto value = parse_body(body);
  if (!value) return problem(400, "the body cannot be read", {{"", value.error().message}});
  if (const auto mistake = router_.contract().body_misfit(operation, value.value()))
    return problem(400, "the body does not say what it must", {*mistake});
  admitted.request.body = std::make_shared<const nlohmann::json>(value.take());
  return std::nullopt;
}

void Site::run(Admitted admitted, Reply reply) {
  const Operation* operation = admitted.operation;  // lives as long as this site, which outlives its requests
  const auto once = std::make_shared<Once>(std::move(reply));
  const Reply checked = [once, operation](Response response) {
    const int status = response.websocket ? 101 : response.status;
    if (!Contract::may_answer(*operation, status))
      response = problem(500, "the daemon answered " + std::to_string(status) + ", which its contract does not declare here");
    once->give(std::move(response));
  };
  if (operation->id == kOpenSession) return checked(open_session(admitted.secret, admitted.came));
  if (operation->id == kCloseSession) return checked(close_session(admitted.secret));
  try {
    (*admitted.handler)(std::move(admitted.request), checked);
  } catch (const std::exception&) {
    once->give(problem(500, "the daemon failed at this request"));  // the words of an exception are not for strangers
  }
}

}  // namespace midstick::http
