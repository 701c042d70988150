#include "daemon/service/verdict_rows.hpp"

#include <nlohmann/json.hpp>

#include "daemon/service/flaky.hpp"

namespace midstick::service {
namespace {

using nlohmann::json;

/// A rank's first cause; "no known cause fits" is an answer too, but not one for a list.
std::string first_cause(const json& check) {
  const json& causes = check.at("causes");
  return causes.empty() ? "" : causes[0].at("text").get<std::string>();
}

void add_metrics(const json& check, std::vector<store::MetricRow>& out) {
  for (const json& m : check.at("measures")) {
    if (!m.at("measured").is_number() || m.at("samples").get<std::int64_t>() <= 0) continue;
    store::MetricRow row{check["name"].get<std::string>() + ": " + m.at("name").get<std::string>(), "", m["measured"].get<double>(), {}};
    if (m.at("unit").is_string()) row.unit = m["unit"];
    if (m.at("uncertainty").is_number()) row.uncertainty = m["uncertainty"].get<double>();
    out.push_back(std::move(row));
  }
}

std::string summary_of(const std::string& own, int quarantined) {
  if (quarantined == 0) return own;
  return own + " " + std::to_string(quarantined) + " of the failures " + (quarantined == 1 ? "is" : "are") +
         " of a quarantined check and does not make the run fail; nor does it pass.";
}

}  // namespace

Result<VerdictRows> rows_of(const std::string& report_json, const Earlier& before) try {
  const json report = json::parse(report_json);
  VerdictRows out;
  std::vector<Counted> counted;
  int excused = 0;
  for (const json& check : report.at("checks")) {
    store::CheckRow row{check.at("name"), check.at("verdict"), check.at("summary"), first_cause(check), false};
    if (row.verdict == "fail") {
      auto verdicts = before(row.name);
      verdicts.insert(verdicts.begin(), row.verdict);
      row.quarantined = quarantined(check.at("kind").get<std::string>(), verdicts);
      excused += row.quarantined;
      ++out.failed;
      if (out.cause.empty() && !row.quarantined) out.cause = row.cause;
    }
    out.inconclusive += row.verdict == "inconclusive";
    counted.push_back({row.verdict, row.quarantined});
    add_metrics(check, out.metrics);
    out.checks.push_back(std::move(row));
  }
  // A report may say inconclusive for the whole run where its checks alone would not; a quarantine only ever takes a fail back.
  out.verdict = report.at("verdict");
  if (out.verdict == "fail") out.verdict = run_verdict(counted);
  out.summary = summary_of(report.at("summary"), excused);
  return out;
} catch (const json::exception& e) {
  return Error{ErrorKind::bad_file, std::string("report.json is not a report of this version: ") + e.what()};
}

}  // namespace midstick::service
