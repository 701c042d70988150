#include "daemon/store/record_rows.hpp"

#include <array>
#include <charconv>
#include <cmath>
#include <nlohmann/json.hpp>

namespace midstick::store {
namespace {

constexpr std::array<std::pair<JobState, const char*>, 5> kStates{{{JobState::queued, "queued"},
                                                                   {JobState::running, "running"},
                                                                   {JobState::done, "done"},
                                                                   {JobState::cancelled, "cancelled"},
                                                                   {JobState::interrupted, "interrupted"}}};

JobState state_of(const std::string& word) {
  for (const auto& [state, name] : kStates)
    if (word == name) return state;
  return JobState::interrupted;  // the table's own CHECK leaves no other word
}

std::optional<std::int64_t> maybe_whole(const Value& value) {
  return std::holds_alternative<std::monostate>(value) ? std::nullopt : std::optional(whole(value));
}

std::optional<std::uint64_t> seed_of(const Value& value) {
  if (std::holds_alternative<std::monostate>(value)) return std::nullopt;
  const std::string& digits = text(value);
  std::uint64_t seed = 0;
  std::from_chars(digits.data(), digits.data() + digits.size(), seed);
  return seed;
}

std::vector<std::string> list_of(const Value& value) {
  std::vector<std::string> out;
  const auto list = nlohmann::json::parse(text(value), nullptr, false);
  for (const auto& item : list)
    if (item.is_string()) out.push_back(item.get<std::string>());
  return out;
}

}  // namespace

std::int64_t whole(const Value& value) {
  const auto* whole = std::get_if<std::int64_t>(&value);
  return whole ? *whole : 0;
}

double number(const Value& value) {
  const auto* number = std::get_if<double>(&value);
  return number ? *number : static_cast<double>(whole(value));
}

std::optional<double> maybe_number(const Value& value) {
  return std::holds_alternative<std::monostate>(value) ? std::nullopt : std::optional(number(value));
}

const std::string& text(const Value& value) {
  static const std::string none;
  const auto* text = std::get_if<std::string>(&value);
  return text ? *text : none;
}

const char* word(JobState state) {
  for (const auto& [known, name] : kStates)
    if (known == state) return name;
  return "";
}

Value kept(const std::string& text) {
  constexpr std::string_view kReplacement = "\xEF\xBF\xBD";
  std::string good =
      nlohmann::json::parse(nlohmann::json(text).dump(-1, ' ', false, nlohmann::json::error_handler_t::replace)).get<std::string>();
  for (auto at = good.find('\0'); at != std::string::npos; at = good.find('\0', at)) good.replace(at, 1, kReplacement);
  return good;
}

Value kept_or_null(const std::string& text) { return text.empty() ? Value() : kept(text); }

Value or_null(const std::optional<std::int64_t>& value) { return value ? Value(*value) : Value(); }

Value or_null(const std::optional<double>& value) { return value && std::isfinite(*value) ? Value(*value) : Value(); }

Value kept_list(const std::vector<std::string>& texts) {
  nlohmann::json list = nlohmann::json::array();
  for (const auto& item : texts) list.push_back(std::get<std::string>(kept(item)));
  return list.dump();
}

Job job_of(const Row& row) {
  std::size_t at = 0;
  const auto next = [&]() -> const Value& { return row.at(at++); };
  Job job;
  job.id = whole(next());
  JobRequest& request = job.request;
  request.plan = text(next());
  request.controller = text(next());
  request.build = text(next());
  request.bench = text(next());
  request.labels = list_of(next());
  request.document = text(next());
  request.only = list_of(next());
  request.seed = seed_of(next());
  request.priority = static_cast<int>(whole(next()));
  request.deadline = maybe_whole(next());
  request.tries = static_cast<int>(whole(next()));
  request.night = text(next());
  job.state = state_of(text(next()));
  job.submitted = whole(next());
  job.ended = maybe_whole(next());
  job.begun = static_cast<int>(whole(next()));
  job.run = whole(next());
  job.note = text(next());
  return job;
}

RunRow run_of(const Row& row) {
  std::size_t at = 0;
  const auto next = [&]() -> const Value& { return row.at(at++); };
  RunRow run;
  run.id = whole(next());
  run.job = whole(next());
  run.plan = text(next());
  run.controller = text(next());
  run.build = text(next());
  run.bench = text(next());
  run.began = whole(next());
  run.ended = maybe_whole(next());
  run.state = text(next());
  run.verdict = text(next());
  run.summary = text(next());
  run.cause = text(next());
  run.failed = static_cast<int>(whole(next()));
  run.inconclusive = static_cast<int>(whole(next()));
  run.checks = static_cast<int>(whole(next()));
  run.bytes = whole(next());
  run.evidence = whole(next()) != 0;
  return run;
}

}  // namespace midstick::store
