#include "daemon/store/database.hpp"

#include <cassert>

namespace midstick::store {

Result<Rows> Database::query(const std::string& sql, const std::vector<Value>& values) {
  // What follows a failure inside a transaction would be outside it: the engine, or a new connection, has forgotten the beginning.
  if (in_transaction_ && failed_inside_) return Error{ErrorKind::io, failure_};
  bool away = false;
  auto rows = run(sql, values, away);
  away_ = !rows && away;
  if (!rows && in_transaction_) {
    failed_inside_ = true;
    failure_ = rows.error().message;
  }
  return rows;
}

Status Database::transaction(const std::function<Status()>& work) {
  assert(!in_transaction_);
  if (auto begun = query(dialect().begin); !begun) return begun.error();
  in_transaction_ = true;
  failed_inside_ = false;
  Status done = work();
  in_transaction_ = false;
  if (failed_inside_) done = Error{ErrorKind::io, failure_};
  if (done) {
    auto committed = query("COMMIT");
    if (committed) return Ok{};
    done = committed.error();
  }
  roll_back();
  return done;
}

}  // namespace midstick::store
