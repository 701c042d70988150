// The operations of openapi.json. io thread; what blocks (database, files) is asked elsewhere and waited for.
//
// The http room has checked a request against the contract before it comes here; here is decided what only the daemon knows (no such run,
// a job that has begun). A database that is away answers 503 with what is wrong; what lives in memory (benches, stop, live) goes on.
#pragma once

#include <memory>

#include "daemon/http/hub.hpp"
#include "daemon/http/router.hpp"
#include "daemon/service/evidence.hpp"
#include "daemon/service/metrics.hpp"
#include "daemon/service/work.hpp"

namespace midstick::service {

/// What the operations work on; all outlive the server.
struct ApiParts {
  boost::asio::io_context& io;
  std::string version;
  std::shared_ptr<const Config> config;
  RecordsDesk& records;
  Benches& benches;
  Work& work;
  Evidence& evidence;
  Metrics& metrics;
  boost::asio::thread_pool& readers;  ///< files and evidence
  std::shared_ptr<int> unpacked;      ///< held by every answer that carries a whole unpacked capture
  std::function<void(const std::string&, const std::string&)> changed;
  std::function<boost::asio::awaitable<Status>()> reload;
  std::function<http::HubCounters()> live_counters;
};

/// The OpenAPI document, built in.
std::string_view contract_text();

// Together every operation of it.
void bind_state(http::Handlers& handlers, ApiParts& parts);      ///< health, plans, controllers, reload, numbers, the contract
void bind_benches(http::Handlers& handlers, ApiParts& parts);    ///< benches, stop, live
void bind_jobs(http::Handlers& handlers, ApiParts& parts);       ///< jobs, submit, cancel, replay
void bind_runs(http::Handlers& handlers, ApiParts& parts);       ///< runs, checks, files, scripts, pulses
void bind_histories(http::Handlers& handlers, ApiParts& parts);  ///< tonight, nights, metrics of a plan, trend

}  // namespace midstick::service
