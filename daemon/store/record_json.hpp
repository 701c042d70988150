// Rows of the records as JSON, as export writes them and the API gives them; members in the order of a person's reading. Pure.
#pragma once

#include <nlohmann/json_fwd.hpp>
#include <string>

#include "daemon/store/records.hpp"

namespace midstick::store {

/// "2026-11-25T21:00:00.000Z" from Unix milliseconds.
std::string time_text(UnixMs at);

nlohmann::ordered_json run_json(const RunRow& run);
nlohmann::ordered_json check_json(const CheckRow& check);

}  // namespace midstick::store
