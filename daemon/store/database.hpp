// One connection to the database that keeps the records: SQLite or PostgreSQL behind the same five calls.
//
// One SQL text serves both engines: standard SQL, placeholders $1, $2, ... (each used at least once), RETURNING, ON CONFLICT. The few words
// that differ are in Dialect. A connection that broke is opened anew by the next call, never inside a transaction.
// Not thread-safe. No call throws; errors are Error{io} with what the engine said, and `away()` says whose fault it was.
#pragma once

#include <cstdint>
#include <functional>
#include <memory>
#include <string>
#include <variant>
#include <vector>

#include "daemon/core/result.hpp"

namespace midstick::store {

/// NULL, whole number, number, text (UTF-8).
using Value = std::variant<std::monostate, std::int64_t, double, std::string>;
using Row = std::vector<Value>;
using Rows = std::vector<Row>;

struct Dialect {
  const char* name;         ///< "sqlite" | "postgresql"
  const char* identity;     ///< type of a key that the engine counts up and never gives twice
  const char* begin;        ///< begins a transaction that will write
  const char* lock_schema;  ///< inside a transaction: nobody else migrates meanwhile
  const char* outwait;      ///< inside a transaction: what others were writing to job and run is over, of those too who died over it
};

class Database {
 public:
  virtual ~Database() = default;
  Database(const Database&) = delete;
  Database& operator=(const Database&) = delete;

  /// One statement. Outside a transaction it is one of its own, on disk when this returns.
  Result<Rows> query(const std::string& sql, const std::vector<Value>& values = {});

  /// Everything `work` asks, or nothing: committed and on disk when this returns Ok. A query that failed inside fails the whole, even when
  /// `work` says Ok. After an error of COMMIT with away() it is unknown which of the two happened. Not to be nested.
  Status transaction(const std::function<Status()>& work);

  /// The last call failed because the database is gone, full, read-only, locked (for too long or in a deadlock) or damaged; not because of
  /// what was asked.
  bool away() const { return away_; }
  /// For a caller that refuses a request before it asks anything.
  void forget_trouble() { away_ = false; }

  virtual const Dialect& dialect() const = 0;

 protected:
  Database() = default;

  /// Runs one statement, opening the connection when there is none. On an error says in `away` what kind it was.
  virtual Result<Rows> run(const std::string& sql, const std::vector<Value>& values, bool& away) = 0;
  /// Ends an open transaction, if the connection still has one.
  virtual void roll_back() = 0;

 private:
  bool away_{false};
  bool in_transaction_{false};
  bool failed_inside_{false};
  std::string failure_;
};

/// Creates the file when it is not there, but only now: a file that vanishes later is away, not empty. WAL, full sync, foreign keys.
Result<std::unique_ptr<Database>> open_sqlite(const std::string& path);

/// `connection`: what libpq takes, "host=... dbname=..." or "postgresql://...".
Result<std::unique_ptr<Database>> open_postgres(const std::string& connection);

}  // namespace midstick::store
