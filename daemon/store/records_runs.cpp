#include <algorithm>
#include <cmath>

#include "daemon/store/record_rows.hpp"

namespace midstick::store {
namespace {

std::string select_runs(const std::string& rest) { return "SELECT " + std::string(kRunColumns) + " FROM run " + rest; }

bool is_end(const std::string& state) { return state == "complete" || state == "incomplete" || state == "interrupted" || state == "error"; }

Status write_checks(Database& database, std::int64_t run, const std::vector<CheckRow>& checks) {
  for (std::size_t i = 0; i < checks.size(); ++i) {
    const CheckRow& c = checks[i];
    auto done = database.query(
        "INSERT INTO check_result (run, position, name, verdict, summary, cause, quarantined) VALUES ($1, $2, $3, $4, $5, $6, $7)",
        {run, static_cast<std::int64_t>(i), kept(c.name), kept(c.verdict), kept(c.summary), kept(c.cause),
         std::int64_t{c.quarantined ? 1 : 0}});
    if (!done) return done.error();
  }
  return Ok{};
}

Status write_metrics(Database& database, std::int64_t run, const std::vector<MetricRow>& metrics) {
  for (std::size_t i = 0; i < metrics.size(); ++i) {
    const MetricRow& m = metrics[i];
    if (!std::isfinite(m.value)) continue;
    auto done = database.query("INSERT INTO metric (run, position, name, unit, value, uncertainty) VALUES ($1, $2, $3, $4, $5, $6)",
                               {run, static_cast<std::int64_t>(i), kept(m.name), kept(m.unit), m.value, or_null(m.uncertainty)});
    if (!done) return done.error();
  }
  return Ok{};
}

}  // namespace

Result<std::int64_t> Records::begin(std::int64_t job, const std::string& bench, UnixMs now) {
  std::int64_t id = 0;
  const auto done = database_->transaction([&]() -> Status {
    auto taken = database_->query(
        "UPDATE job SET state = 'running', begun = begun + 1, note = '' WHERE id = $1 AND state = 'queued' AND begun < tries "
        "AND (deadline IS NULL OR deadline > $2) RETURNING plan, controller, build",
        {job, now});
    if (!taken) return taken.error();
    if (taken->empty()) return refused("job " + std::to_string(job) + " is not queued any more, or its deadline has come");
    const Row& of = (*taken)[0];
    auto added =
        database_->query("INSERT INTO run (job, plan, controller, build, bench, began) VALUES ($1, $2, $3, $4, $5, $6) RETURNING id",
                         {job, of[0], of[1], of[2], kept(bench), now});
    if (!added) return added.error();
    id = whole((*added)[0][0]);
    auto named = database_->query("UPDATE job SET run = $2 WHERE id = $1", {job, id});
    return named ? Status(Ok{}) : named.error();
  });
  if (!done) return done.error();
  return id;
}

Status Records::finish(const RunRow& run, const std::vector<CheckRow>& checks, const std::vector<MetricRow>& metrics, bool again) {
  if (!is_end(run.state) || !run.ended)
    return refused("run " + std::to_string(run.id) + ": state is \"" + run.state + "\"; expected one that has ended, and when");
  return database_->transaction([&]() -> Status {
    auto ended = database_->query(
        "UPDATE run SET ended = $2, state = $3, verdict = $4, summary = $5, cause = $6, failed = $7, inconclusive = $8, checks = $9, "
        "bytes = $10, evidence = $11 WHERE id = $1 AND state = 'running' RETURNING job",
        {run.id, *run.ended, run.state, run.verdict, kept(run.summary), kept(run.cause), std::int64_t{run.failed},
         std::int64_t{run.inconclusive}, std::int64_t{run.checks}, run.bytes, std::int64_t{run.evidence ? 1 : 0}});
    if (!ended) return ended.error();
    if (ended->empty()) {
      auto there = this->run(run.id);
      if (!there) return there.error();
      if (!*there) return refused("there is no run " + std::to_string(run.id));
      const RunRow& was = **there;
      if (was.state == run.state && was.ended == run.ended && was.verdict == run.verdict) return Ok{};  // told twice
      return refused("run " + std::to_string(run.id) + " has ended before, as " + was.state);
    }
    if (auto s = write_checks(*database_, run.id, checks); !s) return s;
    if (auto s = write_metrics(*database_, run.id, metrics); !s) return s;
    const std::string note = run.state == "complete" ? "" : run.summary;
    return end_job(whole((*ended)[0][0]), run.state, again, *run.ended, note);
  });
}

Result<std::vector<RunRow>> Records::recover(UnixMs now, const std::vector<std::int64_t>& in_hand) {
  std::vector<RunRow> interrupted;
  const auto done = database_->transaction([&]() -> Status {
    // A server may still be committing what a killed daemon sent it.
    if (auto alone = database_->query(database_->dialect().outwait); !alone) return alone.error();
    auto going = running();
    if (!going) return going.error();
    for (const RunRow& run : *going) {
      if (std::ranges::find(in_hand, run.id) != in_hand.end()) continue;
      auto rows = database_->query(
          "UPDATE run SET state = 'interrupted', ended = $2, summary = 'the daemon ended while it was played' "
          "WHERE id = $1 RETURNING " +
              std::string(kRunColumns),
          {run.id, now});
      if (!rows) return rows.error();
      interrupted.push_back(run_of((*rows)[0]));
      if (auto s = end_job(run.job, "interrupted", true, now, "run " + std::to_string(run.id) + " was interrupted"); !s) return s;
    }
    return Ok{};
  });
  if (!done) return done.error();
  return interrupted;
}

Result<std::vector<RunRow>> Records::running() {
  return each(database_->query(select_runs("WHERE state = 'running' ORDER BY id")), run_of);
}

Result<std::optional<RunRow>> Records::run(std::int64_t id) { return first(database_->query(select_runs("WHERE id = $1"), {id}), run_of); }

Result<std::vector<RunRow>> Records::runs(const RunFilter& filter) {
  if (filter.limit < 1 || filter.limit > 200) return refused("limit is " + std::to_string(filter.limit) + "; expected 1 to 200");
  Narrowed narrowed{{std::int64_t{filter.limit}}};
  if (!filter.controller.empty()) narrowed.by("controller =", kept(filter.controller));
  if (!filter.plan.empty()) narrowed.by("plan =", kept(filter.plan));
  if (!filter.verdict.empty()) narrowed.by("verdict =", kept(filter.verdict));
  if (!filter.bench.empty()) narrowed.by("bench =", kept(filter.bench));
  if (filter.before > 0) narrowed.by("id <", filter.before);
  return each(database_->query(select_runs(narrowed.where + " ORDER BY id DESC LIMIT $1"), narrowed.values), run_of);
}

Result<std::vector<CheckRow>> Records::checks(std::int64_t run) {
  return each(
      database_->query("SELECT name, verdict, summary, cause, quarantined FROM check_result WHERE run = $1 ORDER BY position", {run}),
      [](const Row& row) {
        return CheckRow{text(row[0]), text(row[1]), text(row[2]), text(row[3]), whole(row[4]) != 0};
      });
}

Result<std::vector<MetricRow>> Records::metrics(std::int64_t run) {
  return each(database_->query("SELECT name, unit, value, uncertainty FROM metric WHERE run = $1 ORDER BY position", {run}),
              [](const Row& row) {
                return MetricRow{text(row[0]), text(row[1]), number(row[2]), maybe_number(row[3])};
              });
}

}  // namespace midstick::store
