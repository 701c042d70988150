#include "daemon/store/record_json.hpp"

#include <date/date.h>

#include <chrono>
#include <nlohmann/json.hpp>

namespace midstick::store {

using json = nlohmann::ordered_json;

std::string time_text(UnixMs at) {
  return date::format("%FT%TZ", std::chrono::sys_time<std::chrono::milliseconds>(std::chrono::milliseconds(at)));
}

json run_json(const RunRow& run) {
  return {{"id", run.id},
          {"job", run.job},
          {"plan", run.plan},
          {"controller", run.controller},
          {"build", run.build},
          {"bench", run.bench},
          {"began", time_text(run.began)},
          {"ended", run.ended ? json(time_text(*run.ended)) : json()},
          {"state", run.state},
          {"verdict", run.verdict},
          {"summary", run.summary},
          {"cause", run.cause},
          {"checks", run.checks},
          {"failed", run.failed},
          {"inconclusive", run.inconclusive},
          {"bytes", run.bytes},
          {"evidence", run.evidence}};
}

json check_json(const CheckRow& c) {
  return {{"name", c.name}, {"verdict", c.verdict}, {"summary", c.summary}, {"cause", c.cause}, {"quarantined", c.quarantined}};
}

}  // namespace midstick::store
