#include "daemon/http/response.hpp"

#include <charconv>
#include <nlohmann/json.hpp>

#include "daemon/http/request.hpp"

namespace midstick::http {
namespace {

template <class Number>
std::optional<Number> number_of(const Request& request, std::string_view name) {
  const std::string text = request.text(name);
  Number value{};
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (error != std::errc{} || end != text.data() + text.size()) return std::nullopt;
  return value;
}

}  // namespace

std::string Request::text(std::string_view name) const {
  const auto found = parameters.find(name);
  return found == parameters.end() ? "" : found->second;
}
std::optional<std::int64_t> Request::integer(std::string_view name) const { return number_of<std::int64_t>(*this, name); }
std::optional<double> Request::number(std::string_view name) const { return number_of<double>(*this, name); }

Response json_response(const nlohmann::json& value, int status) {
  Response out;
  out.status = status;
  out.body = value.dump(-1, ' ', false, nlohmann::json::error_handler_t::replace);
  return out;
}

Response problem(int status, std::string detail, const std::vector<Mistake>& mistakes) {
  nlohmann::json value{{"type", "about:blank"}, {"title", title_of(status)}, {"status", status}};
  if (!detail.empty()) value["detail"] = std::move(detail);
  for (const Mistake& mistake : mistakes) value["errors"].push_back({{"pointer", mistake.pointer}, {"detail", mistake.detail}});
  Response out = json_response(value, status);
  out.type = "application/problem+json";
  return out;
}

std::string title_of(int status) {
  static const std::map<int, std::string> titles{{200, "OK"},
                                                 {201, "Created"},
                                                 {204, "No Content"},
                                                 {304, "Not Modified"},
                                                 {400, "Bad Request"},
                                                 {401, "Unauthorized"},
                                                 {403, "Forbidden"},
                                                 {404, "Not Found"},
                                                 {405, "Method Not Allowed"},
                                                 {408, "Request Timeout"},
                                                 {409, "Conflict"},
                                                 {410, "Gone"},
                                                 {413, "Content Too Large"},
                                                 {414, "URI Too Long"},
                                                 {415, "Unsupported Media Type"},
                                                 {421, "Misdirected Request"},
                                                 {422, "Unprocessable Content"},
                                                 {429, "Too Many Requests"},
                                                 {431, "Request Header Fields Too Large"},
                                                 {500, "Internal Server Error"},
                                                 {503, "Service Unavailable"},
                                                 {505, "HTTP Version Not Supported"}};
  const auto found = titles.find(status);
  return found == titles.end() ? "Problem" : found->second;
}

}  // namespace midstick::http
