// From a run folder to the database: when a run ends, and after a kill.
#include <spdlog/spdlog.h>

#include <nlohmann/json.hpp>

#include "daemon/service/answers.hpp"
#include "daemon/service/flaky.hpp"
#include "daemon/service/verdict_rows.hpp"
#include "daemon/service/work.hpp"
#include "daemon/store/files.hpp"
#include "daemon/store/retention.hpp"

namespace midstick::service {
namespace {

namespace fs = std::filesystem;
constexpr std::size_t kMaxReport = std::size_t{1} << 28;

/// report.json of a folder whose run.json says complete; nothing else counts as finished.
std::optional<std::string> complete_report(const fs::path& folder) {
  const auto state = store::read_file(folder / "run.json", kMaxReport);
  if (!state) return std::nullopt;
  const auto about = nlohmann::json::parse(*state, nullptr, false);
  if (!about.is_object() || about.value("state", "") != "complete") return std::nullopt;
  auto report = store::read_file(folder / "report.json", kMaxReport);
  return report ? std::optional(report.take()) : std::nullopt;
}

}  // namespace

Result<Finished> finished_from(const fs::path& folder, store::RunRow row, const std::string& report_json, store::Records* records) {
  auto rows = rows_of(report_json, [&](const std::string& check) -> std::vector<std::string> {
    if (!records) return {};
    auto earlier = records->verdicts(row.controller, row.plan, row.build, check, kFlakyWindow);
    return earlier ? earlier.take() : std::vector<std::string>{};
  });
  if (!rows) return rows.error();
  row.state = "complete";
  row.verdict = rows->verdict, row.summary = rows->summary, row.cause = rows->cause;
  row.failed = rows->failed, row.inconclusive = rows->inconclusive, row.checks = static_cast<int>(rows->checks.size());
  row.bytes = store::folder_bytes(folder);
  row.ended = now_ms();
  return Finished{std::move(row), std::move(rows->checks), std::move(rows->metrics), false};
}

Status recover(store::Records& records, const fs::path& keep) {
  auto running = records.running();
  if (!running) return running.error();
  for (const store::RunRow& run : *running) {
    const fs::path folder = keep / "runs" / std::to_string(run.id);
    const auto report = complete_report(folder);
    if (!report) continue;
    auto finished = finished_from(folder, run, *report, &records);
    if (!finished) continue;
    if (auto s = records.finish(finished->run, finished->checks, finished->metrics, false); !s) return s;
    spdlog::info("run {}: was finished when the daemon ended; taken over", run.id);
  }
  auto interrupted = records.recover(now_ms());
  if (!interrupted) return interrupted.error();
  for (const auto& run : *interrupted) {
    if (auto s = records.weighed(run.id, store::folder_bytes(keep / "runs" / std::to_string(run.id))); !s) return s;
    const auto job = records.job(run.job);
    if (!job) return job.error();
    const bool again = *job && (*job)->state == store::JobState::queued;
    spdlog::warn("run {}: interrupted by the daemon's end; job {} {}", run.id, run.job, again ? "is run again" : "has no tries left");
  }
  return Ok{};
}

}  // namespace midstick::service
