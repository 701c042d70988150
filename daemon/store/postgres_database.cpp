#include <array>
#include <charconv>
#include <optional>
#include <pqxx/pqxx>

#include "daemon/store/database.hpp"

namespace midstick::store {
namespace {

// Type numbers of PostgreSQL's system catalogue pg_type, fixed since its beginning.
constexpr pqxx::oid kInt8 = 20, kInt2 = 21, kInt4 = 23, kFloat4 = 700, kFloat8 = 701;

/// What a session needs to keep Database's promises, whatever the server's configuration says.
constexpr const char* kSession =
    "SET client_min_messages = warning; SET client_encoding = 'UTF8'; SET synchronous_commit = on; "
    "SET default_transaction_isolation = 'read committed'; SET extra_float_digits = 3; "
    "SET statement_timeout = '30s'; SET lock_timeout = '5s'; SET idle_in_transaction_session_timeout = '60s'";

/// SQLSTATE: 08 connection, 25006 read-only, 53 out of disk, memory or connections, 55P03 lock, 57 cancelled or going down, 58 its own
/// files, XX damage.
bool is_away(const std::string& state) {
  for (const char* prefix : {"08", "25006", "53", "55P03", "57", "58", "XX"})
    if (state.starts_with(prefix)) return true;
  return false;
}

std::optional<std::string> text_of(const Value& value) {
  if (const auto* whole = std::get_if<std::int64_t>(&value)) return std::to_string(*whole);
  if (const auto* text = std::get_if<std::string>(&value)) return *text;
  if (const auto* number = std::get_if<double>(&value)) {
    std::array<char, 32> digits{};  // the shortest that reads back as the same number: at most 24 characters
    const auto end = std::to_chars(digits.data(), digits.data() + digits.size(), *number).ptr;
    return std::string(digits.data(), end);
  }
  return std::nullopt;
}

Value value_of(const pqxx::field& field) {
  if (field.is_null()) return std::monostate{};
  const char* begin = field.c_str();
  const char* end = begin + field.size();
  switch (field.type()) {
    case kInt2:
    case kInt4:
    case kInt8: {
      std::int64_t whole = 0;
      std::from_chars(begin, end, whole);
      return whole;
    }
    case kFloat4:
    case kFloat8: {
      double number = 0;
      std::from_chars(begin, end, number);
      return number;
    }
    default:
      return std::string(begin, end);
  }
}

Rows rows_of(const pqxx::result& result) {
  Rows rows;
  for (const auto& from : result) {
    Row& row = rows.emplace_back();
    for (const auto& field : from) row.push_back(value_of(field));
  }
  return rows;
}

/// A server that vanished without a word is given up after seconds, not after the system's quarter of an hour. What `where` itself asks for
/// counts: of two equal keywords libpq takes the later.
std::string with_patience(const std::string& where) {
  constexpr std::array<const char*, 4> kOptions{"application_name=midstick", "connect_timeout=5", "keepalives_idle=30",
                                                "tcp_user_timeout=30000"};
  std::string options;
  if (!where.starts_with("postgresql://") && !where.starts_with("postgres://")) {
    for (const std::string option : kOptions) options += option + " ";
    return options + where;
  }
  for (const std::string option : kOptions) {
    if (where.find(option.substr(0, option.find('=') + 1)) != std::string::npos) continue;
    options += ((where + options).find('?') == std::string::npos ? "?" : "&") + option;
  }
  return where + options;
}

class PostgresDatabase final : public Database {
 public:
  explicit PostgresDatabase(std::string where) : where_(std::move(where)) {}

  const Dialect& dialect() const override {
    // The lock's number only has to be the same for every Midstick.
    static constexpr Dialect dialect{"postgresql", "BIGINT GENERATED ALWAYS AS IDENTITY PRIMARY KEY", "BEGIN",
                                     "SELECT pg_advisory_xact_lock(6437842)", "LOCK TABLE job, run IN SHARE ROW EXCLUSIVE MODE"};
    return dialect;
  }

 protected:
  Result<Rows> run(const std::string& sql, const std::vector<Value>& values, bool& away) override try {
    // Not left to libpqxx, which would connect again behind our back, inside a transaction too.
    if (connection_ && !connection_->is_open()) connection_.reset();
    if (!connection_) connect();
    std::vector<std::optional<std::string>> texts;
    for (const auto& value : values) texts.push_back(text_of(value));
    std::vector<const char*> pointers;
    for (const auto& text : texts) pointers.push_back(text ? text->c_str() : nullptr);
    pqxx::nontransaction session(*connection_);  // BEGIN and COMMIT are statements like any other
    return rows_of(values.empty() ? session.exec(sql) : session.exec_params(sql, pqxx::prepare::make_dynamic_params(pointers)));
  } catch (const pqxx::transaction_rollback& e) {
    return trouble(e.what(), true, away);  // a deadlock; the other's transaction was let go on
  } catch (const pqxx::sql_error& e) {
    return trouble(e.what(), is_away(e.sqlstate()), away);
  } catch (const pqxx::broken_connection& e) {
    return trouble(e.what(), true, away);
  } catch (const std::exception& e) {
    return trouble(e.what(), false, away);
  }

  void roll_back() override try {
    if (connection_ && connection_->is_open()) pqxx::nontransaction(*connection_).exec("ROLLBACK");
  } catch (const std::exception&) {
    connection_.reset();  // the server rolls back what a closed connection left open
  }

 private:
  void connect() {
    auto connection = std::make_unique<pqxx::connection>(with_patience(where_));
    pqxx::nontransaction(*connection).exec(kSession);
    connection_ = std::move(connection);
  }

  Error trouble(std::string what, bool is_away, bool& away) {
    const bool lost = !connection_ || !connection_->is_open();
    away = is_away || lost;
    if (lost) connection_.reset();
    while (what.ends_with('\n')) what.pop_back();
    return {ErrorKind::io, "PostgreSQL: " + what};
  }

  std::string where_;
  std::unique_ptr<pqxx::connection> connection_;
};

}  // namespace

Result<std::unique_ptr<Database>> open_postgres(const std::string& connection) {
  std::unique_ptr<Database> database = std::make_unique<PostgresDatabase>(connection);
  if (auto answer = database->query("SELECT 1"); !answer) return answer.error();
  return database;
}

}  // namespace midstick::store
