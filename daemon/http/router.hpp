// From method and path to an operation of the contract, and from there to the service's handler. Immutable after `make`; safe to read
// from several threads.
#pragma once

#include <functional>
#include <map>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/core/result.hpp"
#include "daemon/http/contract.hpp"
#include "daemon/http/request.hpp"
#include "daemon/http/response.hpp"

namespace midstick::http {

/// Gives the answer, once, now or later, from any thread. When every copy is gone without an answer, the client gets 500.
using Reply = std::function<void(Response)>;

/// Called on the server's thread: must not block. Long work goes to a pool, which calls `reply` when it is done.
using Handler = std::function<void(Request, Reply)>;

/// A handler that has its answer at hand.
Handler at_once(std::function<Response(const Request&)> answer);

/// Handlers by operationId.
using Handlers = std::map<std::string, Handler>;

class Router {
 public:
  /// Fails (usage) naming every operation without a handler and every handler without an operation; what the server itself answers has
  /// none.
  static Result<Router> make(Contract contract, Handlers handlers);

  struct Match {
    const Operation* operation{nullptr};                              ///< null: no such path, or no such method there
    const Handler* handler{nullptr};                                  ///< null also for what the server itself answers
    std::map<std::string, std::string, std::less<>> path_parameters;  ///< decoded, not yet checked
    std::vector<std::string> allowed;                                 ///< methods of the path, when the path is known
  };
  /// `segments`: the path's, percent-decoded. HEAD finds the GET.
  Match match(std::string_view method, const std::vector<std::string>& segments) const;

  const Contract& contract() const { return contract_; }

 private:
  Router() = default;

  Contract contract_;
  Handlers handlers_;
};

}  // namespace midstick::http
