// Between the rows of a database and the structs of records.hpp: which columns, in which order, and text made fit to be stored. Internal to
// the records.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "daemon/store/database.hpp"
#include "daemon/store/records.hpp"

namespace midstick::store {

/// Columns that job_of and run_of read, for SELECT and RETURNING.
inline constexpr const char* kJobColumns =
    "id, plan, controller, build, bench, labels, document, checks, seed, priority, deadline, tries, night, state, submitted, ended, begun, "
    "run, note";
inline constexpr const char* kRunColumns =
    "id, job, plan, controller, build, bench, began, ended, state, verdict, summary, cause, failed, inconclusive, checks, bytes, evidence";

Job job_of(const Row& row);
RunRow run_of(const Row& row);

std::int64_t whole(const Value& value);
double number(const Value& value);
std::optional<double> maybe_number(const Value& value);
const std::string& text(const Value& value);

const char* word(JobState state);

/// UTF-8 without NUL, as both engines can keep it; what is not becomes U+FFFD.
Value kept(const std::string& text);
Value kept_list(const std::vector<std::string>& texts);
/// NULL when empty.
Value kept_or_null(const std::string& text);
Value or_null(const std::optional<std::int64_t>& value);
/// NULL when absent or no finite number.
Value or_null(const std::optional<double>& value);

/// A WHERE that grows: each condition takes the next placeholder.
struct Narrowed {
  std::vector<Value> values;
  std::string where{"WHERE 1 = 1"};
  void by(const std::string& condition, Value value) {
    values.push_back(std::move(value));
    where += " AND " + condition + " $" + std::to_string(values.size());
  }
};

/// Each row through `of`; an error passes through.
template <class Of>
auto each(const Result<Rows>& rows, Of of) -> Result<std::vector<decltype(of(Row{}))>> {
  if (!rows) return rows.error();
  std::vector<decltype(of(Row{}))> out;
  for (const Row& row : rows.value()) out.push_back(of(row));
  return out;
}

/// The first row, if there is one.
template <class Of>
auto first(const Result<Rows>& rows, Of of) -> Result<std::optional<decltype(of(Row{}))>> {
  if (!rows) return rows.error();
  if (rows.value().empty()) return std::optional<decltype(of(Row{}))>{};
  return std::optional(of(rows.value().front()));
}

}  // namespace midstick::store
