// The steps behind load.hpp, from text or stored values instead of files, so that tests and fuzzers need no files.
//
// read_source checks one text against its schema and fills defaults; the others turn such a Source into a value and check what no
// schema can say. Pure. Failures are bad_file, as load.hpp says.
#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "daemon/core/result.hpp"
#include "daemon/script/load.hpp"
#include "daemon/script/source.hpp"

namespace midstick::script {

/// A text that fits the schema of its kind, with defaults.
struct Checked {
  FileKind kind{};
  Source source;
};

/// Parse and check `text`. `wanted`: the only kind allowed; nothing: any, by "format".
Result<Checked> read_source(std::string_view text, const std::string& path, std::optional<FileKind> wanted = std::nullopt);

/// The same for a value that is already parsed (it has no lines).
Result<Checked> check_value(nlohmann::json value, const std::string& path, std::optional<FileKind> wanted = std::nullopt);

Result<ControllerDescription> read_controller(const Source& source);

/// Completes `source` (clamps not given become the output's ends) and reads it.
Result<mixer::MixerSpec> read_mixer(Source& source);

/// The ESC of an output that is already read; nothing where the file names none. Its ends are the output's unless given.
std::optional<esc::Spec> read_esc(const nlohmann::json& output, const mixer::OutputSpec& out);
/// What no schema can say of it; `pointer` is the output's.
std::optional<Error> check_esc(const Source& source, const std::string& pointer, const mixer::OutputSpec& out);

/// Without a setting (a file checked alone) names are free and percent uses the usual 1000/1500/2000 us.
Result<StickScript> read_sticks(const Source& source, const StickSetting* setting);

/// The plan's own part: name, seed, order, frame and checks with parameters; spec, controller and scripts are still empty.
Result<Plan> read_plan(const Source& source);

/// `frame` object at `pointer`.
ReceiverFrame read_frame(const nlohmann::json& frame);

/// Names used by `spec`, `frame` and `plan` checks that the controller must have; `plan_source` and `mixer_source` for messages.
Status names_match(const Plan& plan, const Source& plan_source, const Source& mixer_source);

/// Every stick at its long end must fit in the plan's frame: checks go there, and a run must not find out on the way.
Status frame_fits(const Plan& plan, const Source& plan_source);

}  // namespace midstick::script
