#include "daemon/report/report_json.hpp"

#include <algorithm>
#include <nlohmann/json.hpp>

#include "daemon/judge/decision.hpp"
#include "daemon/judge/text.hpp"
#include "daemon/report/cause_text.hpp"
#include "daemon/report/events.hpp"
#include "daemon/report/lines.hpp"
#include "daemon/report/numbers.hpp"
#include "daemon/report/time_spent.hpp"

namespace midstick::report {
namespace {

using Json = nlohmann::ordered_json;

Json number(std::optional<double> value, std::string_view unit) {
  const auto r = value ? rounded(*value, unit) : std::nullopt;
  return r ? Json(*r) : Json(nullptr);
}

Json limit(const judge::Measure& m) { return {{"low", number(m.limit_low, m.unit)}, {"high", number(m.limit_high, m.unit)}}; }

Json instant(const capture::Capture& capture, BoardTime at) {
  return {{"ticks", at.count}, {"us", number(us_since_start(capture, at), "us")}};
}

/// A time whose end never came has no value and no uncertainty, so that no trend takes the length of the watch for one; its bound is told
/// beside them.
void add_measured(Json& out, const judge::Measure& m) {
  const bool reading = m.never.empty();
  out["measured"] = reading ? number(m.measured, m.unit) : Json(nullptr);
  out["limit"] = limit(m);
  out["uncertainty"] = reading ? number(m.uncertainty, m.unit) : Json(nullptr);
  if (reading) return;
  out["more_than"] = number(m.measured, m.unit);
  out["in_words"] = m.never + " within " + judge::at_least(m.measured) + " " + m.unit;
}

Json measure(const judge::Measure& m) {
  Json out{{"name", m.name}, {"verdict", judge::name(m.verdict)}};
  add_measured(out, m);
  out["conformance_probability"] = number(judge::conformance_probability(m), "");
  out["unit"] = m.unit;
  out["samples"] = m.samples;
  out["note"] = m.note;
  return out;
}

Json span(const Source& source, const judge::Span& s) {
  Json stimulus = Json::array();
  Json response = Json::array();
  for (const auto line : s.stimulus_lines) stimulus.push_back(stimulus_name(source.plan.controller, line));
  for (const auto line : s.response_lines) response.push_back(response_name(source.plan.controller, line));
  return {{"begin", instant(source.capture, s.begin)}, {"end", instant(source.capture, s.end)}, {"label", s.label}, {"failing", s.failing},
          {"stimulus", std::move(stimulus)},           {"response", std::move(response)}};
}

Json causes(const judge::CheckResult& c) {
  Json list = Json::array();
  for (const auto& cause : c.causes)
    list.push_back({{"id", cause.id}, {"text", cause_text(cause)}, {"fit", number(cause.fit, "")}, {"reason", cause.reason}});
  return list;
}

Json time(const Source& source) {
  const auto spent = time_spent(source);
  Json checks = Json::array();
  for (const auto& c : spent.checks)
    checks.push_back({{"name", c.name}, {"board_ms", number(c.ms, "ms")}, {"percent", number(c.percent, "%")}});
  return {{"board_ms", number(spent.total_ms, "ms")},
          {"checks", std::move(checks)},
          {"between_checks", {{"board_ms", number(spent.between_ms, "ms")}, {"percent", number(spent.between_percent, "%")}}}};
}

Json check(const Source& source, const judge::CheckResult& c) {
  Json out{{"name", c.name}, {"kind", c.kind}, {"verdict", c.not_run.empty() ? judge::name(c.verdict) : "not run"}, {"summary", c.summary}};
  if (!c.not_run.empty()) out["not_run"] = c.not_run;
  const auto* head = headline(c);
  if (head)
    add_measured(out, *head);
  else
    out["measured"] = out["limit"] = out["uncertainty"] = nullptr;
  out["unit"] = head ? Json(head->unit) : Json(nullptr);
  out["samples"] = head ? head->samples : 0;
  out["board_ms"] = number(check_ms(source, c.name), "ms");
  out["causes"] = causes(c);
  out["evidence"] = Json::array();
  for (const auto& s : c.evidence) out["evidence"].push_back(span(source, s));
  out["measures"] = Json::array();
  for (const auto& m : c.measures) out["measures"].push_back(measure(m));
  return out;
}

Json run(const Source& source) {
  const auto& id = source.capture.identity;
  Json out;
  out["when"] = {{"started", source.facts.started}, {"finished", source.facts.finished}};
  out["where"] = {
      {"host", source.facts.host}, {"folder", source.facts.folder}, {"plan_file", source.plan.path}, {"bench_address", id.bench_address}};
  out["program"] = source.program;
  out["plan"] = source.plan.name;
  out["build"] = source.facts.build;
  out["seed"] = source.plan.seed;
  out["duration_ms"] = number(run_ms(source.capture), "ms");
  out["complete"] = source.capture.complete;
  out["incomplete_reason"] = source.capture.incomplete_reason;
  out["bench"] = bench_kind(source.capture);
  out["identity"] = {{"board", id.board},           {"boot_id", id.boot_id},
                     {"firmware", id.firmware},     {"schema_hash", id.schema_hash},
                     {"controller", id.controller}, {"controller_image", id.controller_image}};
  return out;
}

Json events(const capture::Capture& capture) {
  Json list = Json::array();
  for (const auto& e : capture.events) {
    if (e.kind == capture::EventKind::supply) continue;  // many; summed up below
    list.push_back({{"kind", event_name(e.kind)},
                    {"since", instant(capture, e.since)},
                    {"at", instant(capture, e.at)},
                    {"value", e.value},
                    {"text", e.text}});
  }
  return list;
}

Json supply(const capture::Capture& capture) {
  const auto s = supply_range(capture);
  if (!s) return nullptr;
  return {{"low_mv", s->low_mv}, {"high_mv", s->high_mv}, {"samples", s->samples}};
}

/// Null where the capture does not say, as those of older versions.
Json clock_facts(const capture::Capture& capture) {
  if (!capture.clock_facts) return nullptr;
  const auto& f = *capture.clock_facts;
  const auto maybe = [](const std::optional<double>& ppm) { return ppm ? number(*ppm, "ppm") : Json(nullptr); };
  return {{"state", clock::name(f.state)},
          {"hard_ppm", {number(f.hard_low_ppm, "ppm"), number(f.hard_high_ppm, "ppm")}},
          {"cross_check_ppm", maybe(f.cross_check_ppm)},
          {"contradictions", f.contradictions},
          {"host_clock", f.host.is_virtual ? "virtual" : "raw"},
          {"host_synchronised", f.host.is_virtual ? "virtual" : clock::name(f.host.synchronised)},
          {"host_disciplined_ppm", maybe(f.host.disciplined_ppm)}};
}

Json clock(const capture::Capture& capture) {
  const auto& map = capture.clock;
  return {{"ppm", number(map.ppm(), "ppm")},
          {"uncertainty_ppm", number(map.uncertainty_ppm, "ppm")},
          {"samples", map.samples},
          {"ns_per_tick", number(map.ns_per_tick, "s")},
          {"facts", clock_facts(capture)}};
}

Json calibration(const capture::Capture& capture) {
  const auto& c = capture.calibration;
  return {{"used", c.has_value()},
          {"board", c ? Json(c->board) : Json(nullptr)},
          {"date", c ? Json(c->date) : Json(nullptr)},
          {"valid_until", c ? Json(capture::valid_until(*c)) : Json(nullptr)},
          {"warning", capture.calibration_note}};
}

}  // namespace

std::string report_json(const Source& source) {
  Json out{{"version", kReportVersion}, {"verdict", judge::name(source.result.verdict)}, {"summary", source.result.summary}};
  out["run"] = run(source);
  out["clock"] = clock(source.capture);
  out["calibration"] = calibration(source.capture);
  out["guard_band"] = number(source.plan.guard_band, "");
  out["time"] = time(source);
  out["supply"] = supply(source.capture);
  out["events"] = events(source.capture);
  out["checks"] = Json::array();
  for (const auto& c : source.result.checks) out["checks"].push_back(check(source, c));
  return out.dump(1, ' ', false, Json::error_handler_t::replace) + "\n";
}

}  // namespace midstick::report
