#include <sqlite3.h>
#include <SQLiteCpp/SQLiteCpp.h>
#include <unistd.h>

#include <cerrno>
#include <cstring>
#include <filesystem>

#include "daemon/store/database.hpp"

namespace midstick::store {
namespace {

/// How long another process (an export, a backup) may hold the database before a call gives up.
constexpr int kBusyMs = 5000;

bool is_away(int code) {
  switch (code) {
    case SQLITE_FULL:
    case SQLITE_IOERR:
    case SQLITE_READONLY:
    case SQLITE_CANTOPEN:
    case SQLITE_BUSY:
    case SQLITE_LOCKED:
    case SQLITE_PROTOCOL:
    case SQLITE_PERM:
    case SQLITE_CORRUPT:
    case SQLITE_NOTADB:
      return true;
    default:
      return false;
  }
}

Value value_of(const SQLite::Column& column) {
  if (column.isNull()) return std::monostate{};
  if (column.isInteger()) return column.getInt64();
  if (column.isFloat()) return column.getDouble();
  return column.getString();
}

void bind(SQLite::Statement& statement, const std::vector<Value>& values) {
  for (std::size_t i = 0; i < values.size(); ++i) {
    const std::string name = "$" + std::to_string(i + 1);
    if (const auto* whole = std::get_if<std::int64_t>(&values[i])) {
      statement.bind(name, *whole);
    } else if (const auto* number = std::get_if<double>(&values[i])) {
      statement.bind(name, *number);
    } else if (const auto* text = std::get_if<std::string>(&values[i])) {
      statement.bind(name, *text);
    } else {
      statement.bind(name);
    }
  }
}

class SqliteDatabase final : public Database {
 public:
  explicit SqliteDatabase(std::string path) : path_(std::move(path)) {}

  const Dialect& dialect() const override {
    // One writer at a time, from BEGIN IMMEDIATE on; a dead one's lock is gone with it.
    static constexpr Dialect dialect{"sqlite", "INTEGER PRIMARY KEY AUTOINCREMENT", "BEGIN IMMEDIATE", "SELECT 1", "SELECT 1"};
    return dialect;
  }

 protected:
  Result<Rows> run(const std::string& sql, const std::vector<Value>& values, bool& away) override try {
    if (has_moved()) {
      // Writing on would go into a file that has no name any more and would be lost.
      connection_.reset();
      away = true;
      return Error{ErrorKind::io, path_ + ": the database file is gone from its place"};
    }
    if (!connection_) connect();
    SQLite::Statement statement(*connection_, sql);
    bind(statement, values);
    Rows rows;
    while (statement.executeStep()) {
      Row& row = rows.emplace_back();
      for (int i = 0; i < statement.getColumnCount(); ++i) row.push_back(value_of(statement.getColumn(i)));
    }
    return rows;
  } catch (const SQLite::Exception& e) {
    away = is_away(e.getErrorCode());
    if (must_reopen(e.getErrorCode())) connection_.reset();
    return Error{ErrorKind::io, path_ + ": " + e.what() + (e.getErrorCode() == SQLITE_CANTOPEN ? why_not_opened() : "")};
  }

  void roll_back() override try {
    if (connection_ && sqlite3_get_autocommit(connection_->getHandle()) == 0) connection_->exec("ROLLBACK");
  } catch (const SQLite::Exception&) {
    connection_.reset();  // closing rolls back too
  }

 private:
  void connect() {
    const int create = opened_once_ ? 0 : SQLite::OPEN_CREATE;
    auto connection = std::make_unique<SQLite::Database>(path_, SQLite::OPEN_READWRITE | create, kBusyMs);
    connection->exec("PRAGMA journal_mode = WAL");
    connection->exec("PRAGMA synchronous = FULL");
    connection->exec("PRAGMA foreign_keys = ON");
    connection_ = std::move(connection);
    opened_once_ = true;
  }

  /// What the engine does not tell: the system's reason, ": /srv/store: Read-only file system".
  std::string why_not_opened() const {
    for (const std::string& place : {std::filesystem::path(path_).parent_path().string(), path_})
      if (!place.empty() && ::access(place.c_str(), W_OK) != 0 && errno != ENOENT) return ": " + place + ": " + std::strerror(errno);
    if (std::error_code ignored; opened_once_ && !std::filesystem::exists(path_, ignored)) return ": it is gone from its place";
    return "";
  }

  bool has_moved() const {
    int moved = 0;
    if (connection_) sqlite3_file_control(connection_->getHandle(), "main", SQLITE_FCNTL_HAS_MOVED, &moved);
    return moved != 0;
  }

  /// A connection that was opened read-only stays so, and one whose file failed may hold a dead descriptor.
  bool must_reopen(int code) const {
    if (!connection_) return false;
    if (code == SQLITE_READONLY) return sqlite3_db_readonly(connection_->getHandle(), "main") == 1;
    return code == SQLITE_IOERR || code == SQLITE_CANTOPEN || code == SQLITE_CORRUPT || code == SQLITE_NOTADB;
  }

  std::string path_;
  std::unique_ptr<SQLite::Database> connection_;
  bool opened_once_{false};
};

}  // namespace

Result<std::unique_ptr<Database>> open_sqlite(const std::string& path) {
  std::unique_ptr<Database> database = std::make_unique<SqliteDatabase>(path);
  if (auto answer = database->query("SELECT 1"); !answer) return answer.error();
  return database;
}

}  // namespace midstick::store
