// A stick script as the text of a stick script file: what load_sticks() reads back as the same script.
//
// Every member that differs from its default is written; moves of points become `list`. Pulse widths in us, or in percent of the travel
// of a mixer spec where one is given (then a width may come back off by rounding, under 0.001 us). Read back with inputs that no move names
// at the spec's centre, and with the seed cut to 32 bits, as files have it. Pure but for write_sticks().
#pragma once

#include <string>
#include <vector>

#include "daemon/core/result.hpp"
#include "daemon/mixer/spec.hpp"
#include "daemon/script/stick_script.hpp"

namespace midstick::script {

/// `header`: lines of comment above. `percent_of`: null for us.
std::string sticks_text(const StickScript& script, const std::vector<std::string>& header, const mixer::MixerSpec* percent_of = nullptr);

/// Can every width be written in percent (the format has -200..200)?
bool fits_percent(const StickScript& script, const mixer::MixerSpec& spec);

/// Writes the file, or replaces it. bad_file when the format has no room for the script (over 1 MiB, 2000 moves or 10000 points in a
/// move); io when it cannot be written.
Status write_sticks(const std::string& path, const StickScript& script, const std::vector<std::string>& header,
                    const mixer::MixerSpec* percent_of = nullptr);

}  // namespace midstick::script
