#include "tests/records/engines.hpp"

#include <stdlib.h>

#include "daemon/store/migrations.hpp"
#include "tests/records/postgres_server.hpp"

namespace midstick::records_test {

namespace fs = std::filesystem;

ScratchFolder::ScratchFolder() {
  std::string pattern = (fs::temp_directory_path() / "midstick-records-XXXXXX").string();
  path_ = ::mkdtemp(pattern.data());
}

ScratchFolder::~ScratchFolder() {
  std::error_code failed;
  fs::remove_all(path_, failed);
}

std::string name(Kind kind) { return kind == Kind::sqlite ? "Sqlite" : "PostgreSql"; }

AnyEngine::AnyEngine()
    : where_(GetParam() == Kind::sqlite ? "sqlite:" + (scratch_.path() / "midstick.db").string()
                                        : "postgresql:" + PostgresServer::the().fresh_database()) {}

std::unique_ptr<store::Records> AnyEngine::open() { return must(store::Records::open(where_)); }

std::unique_ptr<store::Database> AnyEngine::open_database() {
  const std::string rest = where_.substr(where_.find(':') + 1);
  return must(GetParam() == Kind::sqlite ? store::open_sqlite(rest) : store::open_postgres(rest));
}

void WithRecords::SetUp() {
  auto database = open_database();
  ASSERT_TRUE(database);
  must(store::migrate(*database));
  database_ = database.get();
  records_ = std::make_unique<store::Records>(std::move(database));
}

store::JobRequest request(const std::string& build) {
  store::JobRequest job;
  job.plan = "nightly";
  job.controller = "mower";
  job.build = build;
  return job;
}

store::RunRow ended(const store::RunRow& run, const std::string& verdict, store::UnixMs at) {
  store::RunRow row = run;
  row.state = verdict.empty() ? "incomplete" : "complete";
  row.verdict = verdict;
  row.ended = at;
  row.bytes = 1000;
  return row;
}

store::RunRow play(store::Records& records, const store::JobRequest& job, const std::string& verdict, store::UnixMs at,
                   const std::vector<store::CheckRow>& checks, const std::vector<store::MetricRow>& metrics) {
  const auto id = must(records.begin(must(records.submit(job, at)), "left bench", at));
  const auto run = must(records.run(id));
  must(records.finish(ended(run.value_or(store::RunRow{}), verdict, at + 60'000), checks, metrics, false));
  return must(records.run(id)).value_or(store::RunRow{});
}

}  // namespace midstick::records_test
