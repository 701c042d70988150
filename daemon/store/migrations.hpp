// The tables of the records, as numbered steps. A database is of the version of its last step; an older one is brought up in one
// transaction, so a kill leaves the old version or the new one. Steps that were released are never changed, only followed by others.
#pragma once

#include <string>
#include <vector>

#include "daemon/core/result.hpp"
#include "daemon/store/database.hpp"

namespace midstick::store {

/// Statements of one step. {id} stands for the dialect's counted key.
using Migration = std::vector<std::string>;

/// Step 1, 2, ...
const std::vector<Migration>& migrations();

/// Brings the database to version steps.size(). Writes nothing when it is there already, so a read-only database can be opened.
/// Error{bad_file} for one of a newer version, which is left as it is.
Status migrate(Database& database, const std::vector<Migration>& steps = migrations());

}  // namespace midstick::store
