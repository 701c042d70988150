// The HTTP contract, an OpenAPI 3.0 document, as the server and its tests use it: operations, parameters, and does a value fit.
//
// Read once; immutable after that, safe to read from several threads. `nullable` is understood, also beside `$ref`. Schemas are held by
// the script room's validator; formats are not checked.
#pragma once

#include <map>
#include <memory>
#include <nlohmann/json_fwd.hpp>
#include <optional>
#include <set>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/core/result.hpp"
#include "daemon/http/request.hpp"
#include "daemon/http/response.hpp"

namespace midstick::http {

struct Parameter {
  std::string name;
  bool required{false};
  std::string type;                     ///< string, integer, number, boolean
  std::optional<std::string> fallback;  ///< the schema's default
  std::shared_ptr<const nlohmann::json> schema;
};

/// The operations that the server answers itself, for no handler may see a token or a session's key.
inline constexpr std::string_view kOpenSession = "open_session", kCloseSession = "close_session";

struct Operation {
  std::string id, method;             ///< method in capitals
  std::string path;                   ///< template, "/api/1/runs/{run}"
  std::vector<std::string> segments;  ///< of the template; "{run}" stands for one segment
  Scope scope{Scope::read};
  bool by_server{false};  ///< one of the two above; there is no handler
  std::vector<Parameter> path_parameters, query_parameters;
  std::shared_ptr<const nlohmann::json> body_schema;  ///< null: takes no body
  bool body_required{false};
  std::set<int> statuses;  ///< declared
};

class Contract {
 public:
  /// Fails (bad_file) naming the place that is not understood. `text` is the OpenAPI document.
  static Result<Contract> read(std::string_view text);

  const std::vector<Operation>& operations() const { return operations_; }
  const Operation* find(std::string_view id) const;

  /// What the server itself may answer on any operation, declared or not: 304 and refusals of malformed or unwelcome requests.
  static bool always_possible(int status);
  /// May the operation answer so? Declared, or always possible.
  static bool may_answer(const Operation& operation, int status);

  /// First mistake of a parameter's text.
  std::optional<Mistake> parameter_misfit(const Parameter& parameter, const std::string& text) const;
  /// First mistake of a request's body.
  std::optional<Mistake> body_misfit(const Operation& operation, const nlohmann::json& body) const;

  /// For tests of the service: why an actual answer is not what the contract declares, or nothing when it is. `type` without parameters
  /// ("; charset=...") or with. Bodies other than JSON are not looked into.
  std::optional<std::string> contract_misfit(std::string_view operation, int status, std::string_view type, std::string_view body) const;
  /// The same for a WebSocket message: against the schema of components that is called `schema` ("Live").
  std::optional<std::string> message_misfit(std::string_view schema, std::string_view text) const;

 private:
  std::shared_ptr<const nlohmann::json> document_;  ///< with schemas turned into JSON Schema draft 4, components in "definitions"
  std::vector<Operation> operations_;
};

}  // namespace midstick::http
