// Does a value fit its published schema, and if not, where and why in plain words.
//
// The verdict is RapidJSON's; the words are ours. Where the schema offers alternatives (oneOf), the alternative is chosen by its
// tag: the first name in its "required" list, so that a mistake inside a move or a check is reported where it is. Pure; safe to call
// from several threads at once.
#pragma once

#include <nlohmann/json_fwd.hpp>
#include <optional>
#include <string>

#include "daemon/script/schemas.hpp"

namespace midstick::script {

/// One mistake: `pointer` into the value, and "found ...; expected ...".
struct Misfit {
  std::string pointer;
  std::string what;
};

/// The first mistake, or nothing when `value` fits the schema of `kind`.
std::optional<Misfit> first_misfit(FileKind kind, const nlohmann::json& value);

/// The first mistake of `value` by any schema (draft 4): `node`, whose local references lead into `root`'s "definitions".
std::optional<Misfit> first_misfit(const nlohmann::json& root, const nlohmann::json& node, const nlohmann::json& value);

/// The schema as JSON.
const nlohmann::json& schema(FileKind kind);

/// `node` of the schema `root`, with local references followed.
const nlohmann::json& resolved(const nlohmann::json& root, const nlohmann::json& node);

/// Of the alternatives in `node`'s oneOf the one whose tag `value` carries; nullptr when none.
const nlohmann::json* chosen_branch(const nlohmann::json& root, const nlohmann::json& node, const nlohmann::json& value);

}  // namespace midstick::script
