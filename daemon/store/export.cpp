#include "daemon/store/export.hpp"

#include <algorithm>
#include <functional>
#include <nlohmann/json.hpp>

#include "daemon/store/files.hpp"
#include "daemon/store/record_json.hpp"

namespace midstick::store {
namespace {

namespace fs = std::filesystem;
using json = nlohmann::ordered_json;  // columns in the order of a person's reading

struct Whole {
  RunRow run;
  std::vector<CheckRow> checks;
  std::vector<MetricRow> metrics;
};

Result<std::vector<RunRow>> all_runs(Records& records, RunFilter filter) {
  filter.limit = 200;
  std::vector<RunRow> all;
  for (;;) {
    auto page = records.runs(filter);
    if (!page) return page.error();
    all.insert(all.end(), page->begin(), page->end());
    if (page->size() < 200) break;
    filter.before = page->back().id;
  }
  std::ranges::reverse(all);
  return all;
}

/// Each run of the filter with what belongs to it, oldest first.
Status for_each_run(Records& records, const RunFilter& filter, const std::function<void(const Whole&)>& take) {
  auto runs = all_runs(records, filter);
  if (!runs) return runs.error();
  for (RunRow& run : *runs) {
    auto checks = records.checks(run.id);
    if (!checks) return checks.error();
    auto metrics = records.metrics(run.id);
    if (!metrics) return metrics.error();
    take({std::move(run), checks.take(), metrics.take()});
  }
  return Ok{};
}

json metric_json(const MetricRow& m) {
  return {{"name", m.name}, {"unit", m.unit}, {"value", m.value}, {"uncertainty", m.uncertainty ? json(*m.uncertainty) : json()}};
}

/// One field of CSV: quoted when it holds what would end it.
std::string field(const json& value) {
  if (value.is_null()) return "";
  if (!value.is_string()) return value.dump();
  std::string text = value.get<std::string>();
  if (text.find_first_of(",\"\r\n") == std::string::npos) return text;
  for (auto at = text.find('"'); at != std::string::npos; at = text.find('"', at + 2)) text.insert(at, 1, '"');
  return "\"" + text + "\"";
}

/// A table whose columns are the keys of its rows; `first` is put before them.
struct Table {
  std::string text;
  void add(const json& row) {
    std::string line;
    for (const auto& item : row.items()) line += (line.empty() ? "" : ",") + field(item.value());
    text += line + "\r\n";
  }
  void head(const json& row) {
    json names = json::object();
    for (const auto& item : row.items()) names[item.key()] = item.key();
    add(names);
  }
};

json with_run(std::int64_t run, const json& row) {
  json out = {{"run", run}};
  out.update(row);
  return out;
}

}  // namespace

Status export_json(Records& records, const RunFilter& filter, const fs::path& file) {
  json runs = json::array();
  const auto done = for_each_run(records, filter, [&](const Whole& whole) {
    json run = run_json(whole.run);
    json checks = json::array(), metrics = json::array();
    for (const auto& c : whole.checks) checks.push_back(check_json(c));
    for (const auto& m : whole.metrics) metrics.push_back(metric_json(m));
    // "checks" is their number in lists; here they are all told, which says that too.
    run["checks"] = std::move(checks);
    run["metrics"] = std::move(metrics);
    runs.push_back(std::move(run));
  });
  if (!done) return done;
  return replace_file(file, json{{"format", "midstick export 1"}, {"runs", std::move(runs)}}.dump(1) + "\n");
}

Status export_csv(Records& records, const RunFilter& filter, const fs::path& folder) {
  Table runs, checks, metrics;
  runs.head(run_json(RunRow{}));
  checks.head(with_run(0, check_json(CheckRow{})));
  metrics.head(with_run(0, metric_json(MetricRow{})));
  const auto done = for_each_run(records, filter, [&](const Whole& whole) {
    runs.add(run_json(whole.run));
    for (const auto& c : whole.checks) checks.add(with_run(whole.run.id, check_json(c)));
    for (const auto& m : whole.metrics) metrics.add(with_run(whole.run.id, metric_json(m)));
  });
  if (!done) return done;
  std::error_code failed;
  fs::create_directories(folder, failed);
  if (failed) return Error{ErrorKind::io, folder.string() + ": cannot be created: " + failed.message()};
  if (auto s = replace_file(folder / "runs.csv", runs.text); !s) return s;
  if (auto s = replace_file(folder / "checks.csv", checks.text); !s) return s;
  return replace_file(folder / "metrics.csv", metrics.text);
}

Status export_folders(Records& records, const RunFilter& filter, const fs::path& runs, const fs::path& to) {
  auto all = all_runs(records, filter);
  if (!all) return all.error();
  std::error_code failed;
  fs::create_directories(to, failed);
  if (failed) return Error{ErrorKind::io, to.string() + ": cannot be created: " + failed.message()};
  for (const RunRow& run : *all) {
    const fs::path from = runs / std::to_string(run.id);
    if (!fs::exists(from, failed)) continue;
    fs::copy(from, to / from.filename(), fs::copy_options::recursive | fs::copy_options::overwrite_existing, failed);
    if (failed) return Error{ErrorKind::io, from.string() + ": cannot be copied: " + failed.message()};
  }
  return Ok{};
}

}  // namespace midstick::store
