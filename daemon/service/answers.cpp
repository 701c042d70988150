#include "daemon/service/answers.hpp"

#include <date/date.h>

#include <array>
#include <chrono>
#include <nlohmann/json.hpp>
#include <sstream>
#include <utility>

namespace midstick::service {
namespace {

using nlohmann::json;
using std::chrono::milliseconds;
using Instant = date::sys_time<milliseconds>;

constexpr std::array<std::pair<store::JobState, const char*>, 5> kStates{{{store::JobState::queued, "queued"},
                                                                          {store::JobState::running, "running"},
                                                                          {store::JobState::done, "done"},
                                                                          {store::JobState::cancelled, "cancelled"},
                                                                          {store::JobState::interrupted, "interrupted"}}};

json maybe(const std::optional<store::UnixMs>& at) { return at ? json(time_text(*at)) : json(); }

}  // namespace

std::optional<store::UnixMs> time_of(const std::string& text) {
  for (const char* form : {"%FT%TZ", "%FT%T%Ez"}) {
    std::istringstream in(text);
    Instant at;
    in >> date::parse(form, at);
    if (!in.fail() && in.peek() == std::istringstream::traits_type::eof()) return at.time_since_epoch().count();
  }
  return std::nullopt;
}

store::UnixMs now_ms() { return std::chrono::duration_cast<milliseconds>(std::chrono::system_clock::now().time_since_epoch()).count(); }

const char* name(store::JobState state) {
  for (const auto& [s, text] : kStates)
    if (s == state) return text;
  return "";
}

std::optional<store::JobState> job_state(const std::string& text) {
  for (const auto& [s, n] : kStates)
    if (text == n) return s;
  return std::nullopt;
}

json job_answer(const store::Job& job, const std::string& waits_for) {
  const auto& r = job.request;
  return {{"id", job.id},
          {"state", name(job.state)},
          {"plan", r.plan},
          {"controller", r.controller},
          {"build", r.build},
          {"bench", r.bench},
          {"labels", r.labels},
          {"priority", r.priority},
          {"submitted", time_text(job.submitted)},
          {"ended", maybe(job.ended)},
          {"deadline", maybe(r.deadline)},
          {"begun", job.begun},
          {"tries", r.tries},
          {"run", job.run ? json(job.run) : json()},
          {"night", r.night},
          {"replay", !r.document.empty()},
          {"note", job.note},
          {"waits_for", job.state == store::JobState::queued ? waits_for : ""}};
}

json run_answer(const store::RunRow& run) { return store::run_json(run); }

json check_answer(const store::CheckRow& check) {
  json out = store::check_json(check);
  out["script"] = check.verdict != "not run";
  return out;
}

}  // namespace midstick::service
