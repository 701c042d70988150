#include <map>

#include "daemon/store/record_rows.hpp"

namespace midstick::store {

Result<std::vector<Records::Series>> Records::series(const std::string& controller, const std::string& plan) {
  auto rows = database_->query(
      "SELECT m.name, m.unit, r.id, r.began, r.build, m.value, m.uncertainty, r.bench FROM metric m JOIN run r ON r.id = m.run JOIN job j "
      "ON j.id = "
      "r.job "
      "WHERE r.controller = $1 AND r.plan = $2 AND r.state = 'complete' AND j.document = '' ORDER BY r.id, m.position",
      {kept(controller), kept(plan)});
  if (!rows) return rows.error();
  std::map<std::pair<std::string, std::string>, Series> by_name;  // sorted here: the engines' own orders of text differ
  for (const Row& row : *rows) {
    Series& series = by_name[{text(row[0]), text(row[7])}];
    series.name = text(row[0]);
    series.unit = text(row[1]);
    series.bench = text(row[7]);
    series.points.push_back({whole(row[2]), whole(row[3]), text(row[4]), number(row[5]), maybe_number(row[6])});
  }
  std::vector<Series> out;
  for (auto& [name, series] : by_name) out.push_back(std::move(series));
  return out;
}

Result<std::vector<std::string>> Records::verdicts(const std::string& controller, const std::string& plan, const std::string& build,
                                                   const std::string& check, int limit) {
  if (limit < 1 || limit > 1000) return refused("limit is " + std::to_string(limit) + "; expected 1 to 1000");
  return each(database_->query("SELECT c.verdict FROM check_result c JOIN run r ON r.id = c.run JOIN job j ON j.id = r.job "
                               "WHERE r.controller = $1 AND r.plan = $2 AND r.build = $3 AND c.name = $4 AND r.state = 'complete' "
                               "AND j.document = '' ORDER BY r.id DESC, c.position LIMIT $5",
                               {kept(controller), kept(plan), kept(build), kept(check), std::int64_t{limit}}),
              [](const Row& row) { return text(row[0]); });
}

Result<std::vector<RunRow>> Records::droppable() {
  return each(
      database_->query("SELECT " + std::string(kRunColumns) +
                       " FROM run WHERE state <> 'running' AND evidence = 1 ORDER BY CASE verdict WHEN 'pass' THEN 0 WHEN '' THEN 1 "
                       "WHEN 'inconclusive' THEN 2 ELSE 3 END, id"),
      run_of);
}

Status Records::evidence_dropped(std::int64_t run, std::int64_t bytes_left) {
  auto rows =
      database_->query("UPDATE run SET evidence = 0, bytes = $2 WHERE id = $1 AND state <> 'running' RETURNING id", {run, bytes_left});
  if (!rows) return rows.error();
  if (rows->empty()) return refused("there is no run " + std::to_string(run) + " that has ended");
  return Ok{};
}

Status Records::weighed(std::int64_t run, std::int64_t bytes) {
  auto rows = database_->query("UPDATE run SET bytes = $2 WHERE id = $1 AND state <> 'running' RETURNING id", {run, bytes});
  if (!rows) return rows.error();
  if (rows->empty()) return refused("there is no run " + std::to_string(run) + " that has ended");
  return Ok{};
}

Result<std::int64_t> Records::bytes_kept() {
  auto rows = database_->query("SELECT CAST(COALESCE(SUM(bytes), 0) AS BIGINT) FROM run");
  if (!rows) return rows.error();
  return whole((*rows)[0][0]);
}

}  // namespace midstick::store
