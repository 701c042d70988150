// Rows as the API gives them (schemas of openapi.json). Pure.
#pragma once

#include <nlohmann/json_fwd.hpp>
#include <string>

#include "daemon/store/record_json.hpp"
#include "daemon/store/records.hpp"

namespace midstick::service {

using store::time_text;
/// And back; nothing when it is no such text. Any UTC offset is understood.
std::optional<store::UnixMs> time_of(const std::string& text);
store::UnixMs now_ms();

const char* name(store::JobState state);
std::optional<store::JobState> job_state(const std::string& name);

nlohmann::json job_answer(const store::Job& job, const std::string& waits_for);
nlohmann::json run_answer(const store::RunRow& run);
nlohmann::json check_answer(const store::CheckRow& check);

}  // namespace midstick::service
