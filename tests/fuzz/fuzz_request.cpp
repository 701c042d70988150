// Fuzz target: bytes of a client through Beast's parser, the checks of the HTTP room, stub handlers and back to an answer, on the contract.
//
// The first byte: bit 0 whether tokens are configured, bit 1 whether the peer is on the Unix socket. The rest are the connection's bytes,
// which may hold several requests. A broken promise (a path that leads out, an answer that the contract does not know) aborts.
#include <cstdint>
#include <cstdlib>
#include <fstream>
#include <iterator>
#include <nlohmann/json.hpp>

#include "daemon/http/wire.hpp"

namespace {

using namespace midstick;
using namespace midstick::http;

void require(bool held) {
  if (!held) std::abort();
}

const Contract& contract() {
  static const Contract agreed = [] {
    std::ifstream in(MIDSTICK_CONTRACT);
    auto read = Contract::read(std::string(std::istreambuf_iterator<char>(in), {}));
    require(read.ok());
    return read.take();
  }();
  return agreed;
}

Response stub(const Request& request) {
  const Operation* operation = contract().find(request.operation);
  require(operation != nullptr);
  require(request.scope >= operation->scope);
  require((request.body != nullptr) == (operation->body_schema != nullptr));
  for (const auto& parameter : operation->path_parameters) {
    const std::string text = request.text(parameter.name);
    require(!text.empty() && text != "." && text != ".." && text.find('/') == std::string::npos && text.find('\0') == std::string::npos);
    if (parameter.type == "integer") require(request.integer(parameter.name).has_value());
  }
  nlohmann::json echo{{"path", request.path}};
  for (const auto& [name, text] : request.parameters) echo[name] = text;
  (void)echo.dump();  // throws for text that is not UTF-8
  Response out = json_response(echo, operation->statuses.contains(200) ? 200 : 201);
  if (operation->statuses.contains(101)) out.websocket = WebSocket{};
  return out;
}

Site site(bool tokens) {
  Handlers handlers;
  for (const auto& operation : contract().operations())
    if (!operation.by_server) handlers[operation.id] = at_once(stub);
  ServerOptions options;
  options.limits.burst = 8;
  if (tokens) options.tokens = {{"a", Scope::read, sha256_hex("r"), std::nullopt}, {"b", Scope::admin, sha256_hex("a"), std::nullopt}};
  return Site(Router::make(contract(), handlers).take(), options, {"localhost"});
}

void check(const Outgoing& out) {
  require(out.status >= 200 && out.status < 600);
  for (const auto& [name, value] : out.headers) require(value.find('\n') == std::string::npos && value.find('\r') == std::string::npos);
  if (out.status >= 400) require(nlohmann::json::accept(out.body));
}

/// One request; false when the connection would end.
bool one(Site& at, WireParser& parser, const std::string& client) {
  const Head head = head_of(parser.get(), client);
  std::string name;
  auto way = at.admit(head, Instant{}, WallTime{}, name);
  if (auto* response = std::get_if<Response>(&way)) {
    check(at.dress(head, std::move(*response)));
    return true;
  }
  auto admitted = std::get<Site::Admitted>(std::move(way));
  const Operation* operation = admitted.operation;
  std::optional<Response> answer = at.take_body(head, parser.get().body(), admitted);
  if (!answer) at.run(std::move(admitted), [&](Response response) { answer = std::move(response); });
  require(answer.has_value());
  require(answer->websocket ? head.wants_websocket : Contract::may_answer(*operation, answer->status));
  check(at.dress(head, std::move(*answer)));
  return true;
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size);
extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  if (size < 1) return 0;
  Site at = site((data[0] & 1) != 0);
  const std::string client = (data[0] & 2) != 0 ? "unix" : "127.0.0.1";
  const char* bytes = reinterpret_cast<const char*>(data) + 1;
  for (std::size_t left = size - 1; left > 0;) {
    WireParser parser;
    set_limits(parser, Limits{});
    parser.eager(true);
    boost::system::error_code error;
    const std::size_t used = parser.put(boost::asio::buffer(bytes, left), error);
    if (error) {
      if (const auto refusal = refusal_of(error)) check(at.dress(head_of(parser.get(), client), *refusal));
      return 0;
    }
    if (!parser.is_done() || used == 0) return 0;
    one(at, parser, client);
    bytes += used;
    left -= used;
  }
  return 0;
}
