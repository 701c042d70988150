// Plain words for a schema mistake: what was found, what was expected. Words only, no verdicts. Pure.
#pragma once

#include <nlohmann/json_fwd.hpp>
#include <string>
#include <string_view>

namespace midstick::script {

/// `rule`: the schema node that failed, by `keyword`; `found`: the value at `pointer`, where it failed.
std::string explain(const nlohmann::json& rule, std::string_view keyword, const nlohmann::json& found, std::string_view pointer);

/// None of the alternatives of `rule` has a tag that `found` carries.
std::string explain_branches(const nlohmann::json& root, const nlohmann::json& rule, const nlohmann::json& found);

/// The member of `words` nearest to `word` by edit distance, when it is at most 2 away; else "".
std::string nearest(std::string_view word, const nlohmann::json& words);

}  // namespace midstick::script
