#include "daemon/store/records.hpp"

#include "daemon/store/database.hpp"
#include "daemon/store/migrations.hpp"

namespace midstick::store {
namespace {

Result<std::unique_ptr<Database>> open_database(const std::string& where) {
  constexpr std::string_view kSqlite = "sqlite:", kPostgres = "postgresql:";
  if (where.starts_with(kSqlite)) return open_sqlite(where.substr(kSqlite.size()));
  if (where.starts_with("postgresql://")) return open_postgres(where);
  if (where.starts_with(kPostgres)) return open_postgres(where.substr(kPostgres.size()));
  return Error{ErrorKind::usage,
               "the database is \"" + where.substr(0, where.find(':')) + ":...\"; expected \"sqlite:PATH\" or \"postgresql:CONNECTION\""};
}

}  // namespace

Result<std::unique_ptr<Records>> Records::open(const std::string& where) {
  auto database = open_database(where);
  if (!database) return database.error();
  if (auto migrated = migrate(**database); !migrated) return migrated.error();
  return std::make_unique<Records>(database.take());
}

Records::Records(std::unique_ptr<Database> database) : database_(std::move(database)) {}
Records::~Records() = default;

bool Records::away() const { return database_->away(); }

Error Records::refused(std::string why) {
  database_->forget_trouble();
  return {ErrorKind::usage, std::move(why)};
}

Status Records::probe() {
  auto rows = database_->query("UPDATE midstick_schema SET version = version RETURNING version");
  return rows ? Status(Ok{}) : rows.error();
}

}  // namespace midstick::store
