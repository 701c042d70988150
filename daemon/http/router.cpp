#include "daemon/http/router.hpp"

namespace midstick::http {
namespace {

bool is_variable(const std::string& segment) { return segment.size() > 2 && segment.front() == '{' && segment.back() == '}'; }

/// Does the path fit the template? Fills the variables.
bool fits(const std::vector<std::string>& form, const std::vector<std::string>& path,
          std::map<std::string, std::string, std::less<>>& variables) {
  if (form.size() != path.size()) return false;
  variables.clear();
  for (std::size_t i = 0; i < form.size(); ++i) {
    if (!is_variable(form[i])) {
      if (form[i] != path[i]) return false;
    } else {
      if (path[i].empty()) return false;
      variables[form[i].substr(1, form[i].size() - 2)] = path[i];
    }
  }
  return true;
}

}  // namespace

Handler at_once(std::function<Response(const Request&)> answer) {
  return [answer = std::move(answer)](const Request& request, const Reply& reply) { reply(answer(request)); };
}

Result<Router> Router::make(Contract contract, Handlers handlers) {
  std::string missing, unknown;
  for (const Operation& operation : contract.operations())
    if (!operation.by_server && !handlers.contains(operation.id)) missing += " " + operation.id;
  for (const auto& [id, handler] : handlers)
    if (const Operation* operation = contract.find(id); !operation || operation->by_server) unknown += " " + id;
  if (!missing.empty()) return Error{ErrorKind::usage, "the contract's operations without a handler:" + missing};
  if (!unknown.empty()) return Error{ErrorKind::usage, "handlers without an operation in the contract:" + unknown};
  Router router;
  router.contract_ = std::move(contract);
  router.handlers_ = std::move(handlers);
  return router;
}

Router::Match Router::match(std::string_view method, const std::vector<std::string>& segments) const {
  Match found;
  std::map<std::string, std::string, std::less<>> variables;
  for (const Operation& operation : contract_.operations()) {
    if (!fits(operation.segments, segments, variables)) continue;
    found.allowed.push_back(operation.method);
    if (operation.method == "GET") found.allowed.push_back("HEAD");
    if (operation.method != method && !(method == "HEAD" && operation.method == "GET")) continue;
    found.operation = &operation;
    found.handler = operation.by_server ? nullptr : &handlers_.at(operation.id);
    found.path_parameters = variables;
  }
  return found;
}

}  // namespace midstick::http
