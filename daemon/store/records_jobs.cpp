#include <algorithm>

#include "daemon/store/record_rows.hpp"

namespace midstick::store {
namespace {

std::string select_jobs(const std::string& rest) { return "SELECT " + std::string(kJobColumns) + " FROM job " + rest; }

}  // namespace

Result<std::int64_t> Records::submit(const JobRequest& request, UnixMs now) {
  if (request.priority < -100 || request.priority > 100)
    return refused("priority is " + std::to_string(request.priority) + "; expected -100 to 100");
  if (request.tries < 1 || request.tries > 5) return refused("tries is " + std::to_string(request.tries) + "; expected 1 to 5");
  const Value night = kept_or_null(request.night);
  auto added = database_->query(
      "INSERT INTO job (plan, controller, build, bench, labels, document, checks, seed, priority, deadline, tries, night, submitted) "
      "VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13) ON CONFLICT (night) DO NOTHING RETURNING id",
      {kept(request.plan), kept(request.controller), kept(request.build), kept(request.bench), kept_list(request.labels),
       kept(request.document), kept_list(request.only), kept_or_null(request.seed ? std::to_string(*request.seed) : ""),
       std::int64_t{request.priority}, or_null(request.deadline), std::int64_t{request.tries}, night, now});
  if (!added) return added.error();
  if (!added->empty()) return whole((*added)[0][0]);
  auto there = database_->query("SELECT id FROM job WHERE night = $1", {night});
  if (!there) return there.error();
  if (there->empty()) return Error{ErrorKind::io, "the job of night \"" + request.night + "\" is there and yet is not"};
  return whole((*there)[0][0]);
}

Result<std::optional<Job>> Records::job(std::int64_t id) { return first(database_->query(select_jobs("WHERE id = $1"), {id}), job_of); }

Result<std::optional<Job>> Records::night(const std::string& name) {
  return first(database_->query(select_jobs("WHERE night = $1"), {kept(name)}), job_of);
}

Result<UnixMs> Records::night_known(const std::string& name, UnixMs now) {
  auto rows = database_->query(
      "INSERT INTO night (name, known) VALUES ($1, $2) ON CONFLICT (name) DO UPDATE SET known = CASE WHEN night.known > excluded.known "
      "THEN excluded.known ELSE night.known END RETURNING known",
      {kept(name), now});
  if (!rows) return rows.error();
  return whole((*rows)[0][0]);
}

Result<std::vector<Job>> Records::jobs(std::optional<JobState> state, std::int64_t before, int limit) {
  if (limit < 1 || limit > 200) return refused("limit is " + std::to_string(limit) + "; expected 1 to 200");
  Narrowed narrowed{{std::int64_t{limit}}};
  if (state) narrowed.by("state =", word(*state));
  if (before > 0) narrowed.by("id <", before);
  return each(database_->query(select_jobs(narrowed.where + " ORDER BY id DESC LIMIT $1"), narrowed.values), job_of);
}

Result<std::vector<Job>> Records::queue() {
  return each(database_->query(select_jobs("WHERE state = 'queued' ORDER BY priority DESC, id")), job_of);
}

Result<bool> Records::cancel(std::int64_t id, const std::string& why, UnixMs now) {
  auto rows = database_->query("UPDATE job SET state = 'cancelled', ended = $2, note = $3 WHERE id = $1 AND state = 'queued' RETURNING id",
                               {id, now, kept(why)});
  if (!rows) return rows.error();
  if (!rows->empty()) return true;
  auto known = job(id);
  if (!known) return known.error();
  if (!*known) return refused("there is no job " + std::to_string(id));
  return false;
}

Result<std::vector<std::int64_t>> Records::expire(UnixMs now) {
  auto ids = each(database_->query("UPDATE job SET state = 'cancelled', ended = $1, note = 'not begun by its deadline' "
                                   "WHERE state = 'queued' AND deadline <= $1 RETURNING id",
                                   {now}),
                  [](const Row& row) { return whole(row[0]); });
  if (ids) std::ranges::sort(*ids);  // RETURNING has no order of its own
  return ids;
}

Status Records::end_job(std::int64_t job, const std::string& run_state, bool again, UnixMs now, const std::string& note) {
  const char* over = run_state == "interrupted" ? "interrupted" : "done";
  auto rows = database_->query(
      "UPDATE job SET state = CASE WHEN $2 = 1 AND begun < tries THEN 'queued' ELSE $3 END, "
      "ended = CASE WHEN $2 = 1 AND begun < tries THEN NULL ELSE CAST($4 AS BIGINT) END, note = $5 WHERE id = $1 AND state = 'running' "
      "RETURNING id",
      {job, std::int64_t{again ? 1 : 0}, over, now, kept(note)});
  if (!rows) return rows.error();
  if (rows->empty()) return Error{ErrorKind::io, "job " + std::to_string(job) + " is not running, but its run is"};
  return Ok{};
}

}  // namespace midstick::store
