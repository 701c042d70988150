#include "daemon/store/migrations.hpp"

namespace midstick::store {
namespace {

constexpr const char* kReadVersion = "SELECT version FROM midstick_schema";

std::string in_dialect(std::string sql, const Dialect& dialect) {
  constexpr std::string_view kId = "{id}";
  if (const auto at = sql.find(kId); at != std::string::npos) sql.replace(at, kId.size(), dialect.identity);
  return sql;
}

std::int64_t version_of(const Rows& rows) { return rows.empty() ? 0 : std::get<std::int64_t>(rows[0][0]); }

Error too_new(std::int64_t found, std::size_t known) {
  return {ErrorKind::bad_file, "the database is of version " + std::to_string(found) +
                                   ", written by a newer midstickd; this one knows up to " + std::to_string(known) +
                                   " and leaves it as it is"};
}

/// Inside a transaction.
Status climb(Database& database, const std::vector<Migration>& steps) {
  if (auto locked = database.query(database.dialect().lock_schema); !locked) return locked.error();
  if (auto made = database.query("CREATE TABLE IF NOT EXISTS midstick_schema (version BIGINT NOT NULL)"); !made) return made.error();
  auto rows = database.query(kReadVersion);
  if (!rows) return rows.error();
  const auto from = version_of(*rows);
  const auto to = static_cast<std::int64_t>(steps.size());
  if (from > to) return too_new(from, steps.size());
  for (auto step = from; step < to; ++step)
    for (const auto& sql : steps[static_cast<std::size_t>(step)])
      if (auto done = database.query(in_dialect(sql, database.dialect())); !done) return done.error();
  auto noted =
      database.query(rows->empty() ? "INSERT INTO midstick_schema (version) VALUES ($1)" : "UPDATE midstick_schema SET version = $1", {to});
  return noted ? Status(Ok{}) : noted.error();
}

}  // namespace

const std::vector<Migration>& migrations() {
  // Whole numbers are BIGINT and numbers DOUBLE PRECISION, which mean the same to both engines. Flags are 0 or 1.
  static const std::vector<Migration> steps{
      {
          "CREATE TABLE job (id {id}, plan TEXT NOT NULL, controller TEXT NOT NULL, build TEXT NOT NULL, bench TEXT NOT NULL, "
          "labels TEXT NOT NULL, document TEXT NOT NULL, checks TEXT NOT NULL, seed TEXT, priority BIGINT NOT NULL, deadline BIGINT, tries "
          "BIGINT NOT NULL, "
          "night TEXT UNIQUE, submitted BIGINT NOT NULL, ended BIGINT, begun BIGINT NOT NULL DEFAULT 0, run BIGINT NOT NULL DEFAULT 0, "
          "note TEXT NOT NULL DEFAULT '', state TEXT NOT NULL DEFAULT 'queued' "
          "CHECK (state IN ('queued', 'running', 'done', 'cancelled', 'interrupted')), CHECK (begun <= tries))",
          "CREATE INDEX job_by_state ON job (state, priority DESC, id)",
          "CREATE TABLE run (id {id}, job BIGINT NOT NULL REFERENCES job (id), plan TEXT NOT NULL, controller TEXT NOT NULL, "
          "build TEXT NOT NULL, bench TEXT NOT NULL, began BIGINT NOT NULL, ended BIGINT, verdict TEXT NOT NULL DEFAULT '' "
          "CHECK (verdict IN ('', 'pass', 'fail', 'inconclusive')), summary TEXT NOT NULL DEFAULT '', cause TEXT NOT NULL DEFAULT '', "
          "failed BIGINT NOT NULL DEFAULT 0, inconclusive BIGINT NOT NULL DEFAULT 0, checks BIGINT NOT NULL DEFAULT 0, "
          "bytes BIGINT NOT NULL DEFAULT 0, evidence BIGINT NOT NULL DEFAULT 1, state TEXT NOT NULL DEFAULT 'running' "
          "CHECK (state IN ('running', 'complete', 'incomplete', 'interrupted', 'error')))",
          // Two runs of one job at once cannot be written down, whatever the program above gets wrong.
          "CREATE UNIQUE INDEX run_going_on ON run (job) WHERE state = 'running'",
          "CREATE INDEX run_by_history ON run (controller, plan, state, id)",
          "CREATE TABLE check_result (run BIGINT NOT NULL REFERENCES run (id), position BIGINT NOT NULL, name TEXT NOT NULL, "
          "verdict TEXT NOT NULL, summary TEXT NOT NULL, "
          "cause TEXT NOT NULL, quarantined BIGINT NOT NULL, PRIMARY KEY (run, position))",
          "CREATE TABLE metric (run BIGINT NOT NULL REFERENCES run (id), position BIGINT NOT NULL, name TEXT NOT NULL, unit TEXT NOT NULL, "
          "value DOUBLE PRECISION NOT NULL, uncertainty DOUBLE PRECISION, PRIMARY KEY (run, position))",
          "CREATE INDEX metric_by_name ON metric (name, run)",
      },
      {"CREATE TABLE night (name TEXT PRIMARY KEY, known BIGINT NOT NULL)"},
  };
  return steps;
}

Status migrate(Database& database, const std::vector<Migration>& steps) {
  auto rows = database.query(kReadVersion);
  if (!rows && database.away()) return rows.error();
  const std::int64_t found = rows ? version_of(*rows) : 0;  // no such table: new
  if (found > static_cast<std::int64_t>(steps.size())) return too_new(found, steps.size());
  if (found == static_cast<std::int64_t>(steps.size())) return Ok{};
  return database.transaction([&] { return climb(database, steps); });
}

}  // namespace midstick::store
