#include "daemon/trend/history.hpp"

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>
#include <set>
#include <tuple>

#include "daemon/report/report_json.hpp"
#include "daemon/store/files.hpp"

namespace midstick::trend {
namespace {

namespace fs = std::filesystem;
using nlohmann::json;

constexpr std::size_t kMaxFile = std::size_t{1} << 28;

struct Reading {
  Metric metric;  ///< without nights
  std::optional<Night> night;
};

/// Folders below (and with) `root` that hold a run.json or a report.json, each once.
void find_runs(const fs::path& root, std::set<fs::path>& found) {
  std::error_code error;
  if (fs::exists(root / "run.json", error) || fs::exists(root / "report.json", error)) found.insert(fs::weakly_canonical(root, error));
  for (fs::directory_iterator at(root, fs::directory_options::skip_permission_denied, error), end; !error && at != end;
       at.increment(error)) {
    const bool hidden = at->path().filename().string().starts_with(".");
    if (!hidden && at->is_directory(error) && !at->is_symlink(error)) find_runs(at->path(), found);
  }
}

Result<json> read_json(const fs::path& path) {
  const auto text = store::read_file(path, kMaxFile);
  if (!text) return Error{ErrorKind::bad_file, path.filename().string() + " is missing or cannot be read"};
  json document = json::parse(text.value(), nullptr, false);
  if (!document.is_object()) return Error{ErrorKind::bad_file, path.filename().string() + " is not a JSON object"};
  return document;
}

std::optional<double> number_in(const json& of, const char* key) {
  return of.contains(key) && of[key].is_number() ? std::optional(of[key].get<double>()) : std::nullopt;
}

Reading reading(const Metric& about, const json& check, const json& measure, const Night& night) {
  Reading r{about, {}};
  r.metric.check = check.at("name").get<std::string>();
  r.metric.measure = measure.at("name").get<std::string>();
  r.metric.unit = measure.at("unit").is_string() ? measure["unit"].get<std::string>() : "";
  r.metric.limit_low = number_in(measure.at("limit"), "low");
  r.metric.limit_high = number_in(measure["limit"], "high");
  const auto value = number_in(measure, "measured");
  if (value && std::isfinite(*value) && measure.at("samples").get<std::int64_t>() > 0) {
    r.night = night;
    r.night->value = *value;
    r.night->uncertainty = number_in(measure, "uncertainty").value_or(0);
  }
  return r;
}

/// Every measure of one run. The error's message is why the run is left out.
Result<std::vector<Reading>> read_run(const fs::path& folder) try {
  const auto state = read_json(folder / "run.json");
  if (!state) return state.error();
  if (state->value("state", "") != "complete") return Error{ErrorKind::bad_file, "the run did not finish"};
  const auto report = read_json(folder / "report.json");
  if (!report) return report.error();
  if (report->value("version", 0) != report::kReportVersion)
    return Error{ErrorKind::bad_file, "report.json is not a report of version " + std::to_string(report::kReportVersion)};
  const json& run = report->at("run");
  if (!run.at("complete").get<bool>()) return Error{ErrorKind::bad_file, "the run was cut short"};

  Metric about;
  about.controller = run.at("identity").at("controller").get<std::string>();
  about.build = run.value("build", "");
  if (about.build.empty()) about.build = run["identity"].value("controller_image", "");
  about.bench = run.at("bench").get<std::string>();
  about.plan = run.at("plan").get<std::string>();
  const Night night{run.at("when").at("started").get<std::string>(), folder, 0, 0};
  if (night.started.empty()) return Error{ErrorKind::bad_file, "report.json does not say when the run started"};
  std::vector<Reading> readings;
  for (const json& check : report->at("checks"))
    for (const json& measure : check.at("measures")) readings.push_back(reading(about, check, measure, night));
  return readings;
} catch (const json::exception& e) {
  return Error{ErrorKind::bad_file, std::string("report.json is not laid out as it must be: ") + e.what()};
}

auto key(const Metric& m) { return std::tie(m.controller, m.plan, m.bench, m.build, m.check, m.measure, m.unit); }

void add(History& history, Reading reading) {
  auto& all = history.metrics;
  auto at = std::find_if(all.begin(), all.end(), [&](const Metric& m) { return key(m) == key(reading.metric); });
  if (at == all.end()) at = all.insert(all.end(), reading.metric);
  at->limit_low = reading.metric.limit_low, at->limit_high = reading.metric.limit_high;
  if (reading.night)
    at->nights.push_back(*reading.night);
  else
    ++at->without_value;
}

struct Run {
  std::string started;
  fs::path folder;
  std::vector<Reading> readings;
};

}  // namespace

Result<History> read_history(const std::vector<fs::path>& folders) {
  std::set<fs::path> found;
  for (const auto& folder : folders) {
    std::error_code error;
    if (!fs::is_directory(folder, error)) return Error{ErrorKind::bad_file, folder.string() + ": is not a folder"};
    find_runs(folder, found);
  }
  if (found.empty()) return Error{ErrorKind::bad_file, folders.front().string() + ": no run folder in it or below it"};

  History history;
  std::vector<Run> runs;
  for (const auto& folder : found) {
    auto readings = read_run(folder);
    if (!readings)
      history.left_out.push_back({folder, readings.error().message});
    else if (readings->empty())
      history.left_out.push_back({folder, "nothing was measured in it"});
    else
      runs.push_back({readings->front().night ? readings->front().night->started : "", folder, readings.take()});
  }
  for (auto& run : runs)
    for (const auto& r : run.readings)
      if (r.night) run.started = r.night->started;
  std::stable_sort(runs.begin(), runs.end(),
                   [](const Run& a, const Run& b) { return std::tie(a.started, a.folder) < std::tie(b.started, b.folder); });
  for (auto& run : runs)
    for (auto& r : run.readings) add(history, std::move(r));
  history.runs = runs.size();
  std::stable_sort(history.metrics.begin(), history.metrics.end(), [](const Metric& a, const Metric& b) {
    return std::tie(a.controller, a.plan, a.bench, a.build) < std::tie(b.controller, b.plan, b.bench, b.build);
  });
  return history;
}

}  // namespace midstick::trend
