// The operations of openapi.json. io thread; what blocks (database, files) is asked elsewhere and waited for.
//
// The http room has checked a request against the contract before it comes here; here is decided what only the daemon knows (no such run,
// a job that has begun). A database that is away answers 503 with what is wrong; what lives in memory (benches, stop, live) goes on.
#pragma once

#include <memory>

#include "daemon/http/router.hpp"
#include "daemon/service/evidence.hpp"
#include "daemon/service/metrics.hpp"
#include "daemon/service/work.hpp"

namespace midstick::service {

/// What the operations work on; all outlive the router.
struct ApiParts {
  std::shared_ptr<const Config>& config;
  RecordsDesk& records;
  Benches& benches;
  Work& work;
  Evidence& evidence;
  Metrics& metrics;
  boost::asio::thread_pool& readers;                         ///< files and evidence
  std::function<void(const std::string&, const std::string&)> changed;
  std::function<Status()> reload;
};

/// Binds every operation but `live`, which the hub serves.
void bind_state(http::Router& router, ApiParts& parts);     ///< health, benches, stop, plans, controllers, nights, reload, metrics
void bind_jobs(http::Router& router, ApiParts& parts);      ///< jobs, submit, cancel, replay
void bind_runs(http::Router& router, ApiParts& parts);      ///< runs, checks, files, scripts, pulses
void bind_histories(http::Router& router, ApiParts& parts); ///< tonight, metrics of a plan, trend

}  // namespace midstick::service
