// A learned table as members of a mixer file. Pure; cannot fail.
#pragma once

#include <nlohmann/json.hpp>

#include "daemon/mixer/spec.hpp"

namespace midstick::script {

/// The member "table" of "mix".
nlohmann::json table_json(const mixer::Table& table);

/// `mixer` (a whole mixer file) with law table and this table. Whatever shaped sticks and sides before the table was measured is in the
/// table now, so dead bands, square, expo, rates, scales, reverse limits, start offsets, trims and reversals are taken out; slew stays.
nlohmann::json with_table(nlohmann::json mixer, const mixer::Table& table);

}  // namespace midstick::script
