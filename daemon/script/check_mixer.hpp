// What no schema can say about a mixer spec: numbers that contradict one another. Pure.
#pragma once

#include <optional>
#include <string>

#include "daemon/mixer/spec.hpp"
#include "daemon/script/source.hpp"

namespace midstick::script {

/// Pointer of the i-th input or output of the spec, in the order of mixer::inputs() and mixer::outputs().
std::string place_of_input(std::size_t i);
std::string place_of_output(std::size_t i);

/// Clamps not given become the output's ends.
void complete_clamps(Source& source);

/// The first contradiction in `spec`, which was read from `source`, with its place and what was expected; nothing when there is none.
std::optional<Error> contradiction(const Source& source, const mixer::MixerSpec& spec);

}  // namespace midstick::script
