// What the database knows of many runs, judged: one metric over the nights, what drifts, what broke since yesterday.
//
// Blocks; call where the database may be asked. A metric's series runs over all builds of a controller under one plan (each point tells its
// build): a nightly build has a new label every night. Drift is judged by daemon/trend, its caution shared by all metrics of the plan.
#pragma once

#include <nlohmann/json_fwd.hpp>
#include <string>

#include "daemon/service/config.hpp"
#include "daemon/store/records.hpp"

namespace midstick::service {

/// Trend of the API, of one bench: `bench`, or where that is empty the one with the newest run; nothing when no run has such a metric.
Result<std::optional<nlohmann::json>> trend_answer(store::Records& records, const std::string& controller, const std::string& plan,
                                                   const std::string& metric, const std::string& bench);

/// Every metric of a controller's plan that drifts, as Drift of the API.
Result<nlohmann::json> drifts(store::Records& records, const std::string& controller, const std::string& plan);

/// Checks that failed in a run, as Tonight's "broke", with what each was in the last run before that judged it, of the same controller,
/// plan and bench.
Result<nlohmann::json> broke(store::Records& records, const store::RunRow& run);

/// Checks that are quarantined for the builds of these runs, as Tonight's "quarantined".
Result<nlohmann::json> quarantine(store::Records& records, const std::vector<store::RunRow>& runs);

/// Every schedule with its next night and what became of its last, as Night of the API.
Result<nlohmann::json> nights_answer(store::Records& records, const Config& config);

}  // namespace midstick::service
