// Fills in the defaults that the published schema states, so that readers find every value present. Pure.
#pragma once

#include <nlohmann/json_fwd.hpp>

#include "daemon/script/schemas.hpp"

namespace midstick::script {

/// Add every absent member that has a "default" in the schema of `kind`, at every depth. `value` must fit the schema.
void fill_defaults(FileKind kind, nlohmann::json& value);

}  // namespace midstick::script
