// From files to values: controller descriptions, mixer specs, stick scripts and plans.
//
// Every reader: JSON with comments, the published schema, defaults filled in from it, then what no schema can say (names that must
// match, low < centre < high, pulses that fit in the frame, files that must exist). Files named in a file are relative to it. No
// threads, nothing kept. Every failure is bad_file and names file, line, JSON pointer, what was found and what was expected; only the
// first is reported. Whether a program image exists is asked by validate_file alone: a real bench does not need it.
#pragma once

#include <nlohmann/json_fwd.hpp>
#include <optional>
#include <string>

#include "daemon/core/result.hpp"
#include "daemon/mixer/spec.hpp"
#include "daemon/script/controller.hpp"
#include "daemon/script/plan.hpp"
#include "daemon/script/schemas.hpp"
#include "daemon/script/stick_script.hpp"

namespace midstick::script {

Result<ControllerDescription> load_controller(const std::string& path);
Result<mixer::MixerSpec> load_mixer(const std::string& path);

/// What a stick script is read against: endpoints for percent, names of inputs, the frame where it gives none, the run's seed.
struct StickSetting {
  mixer::MixerSpec spec;
  ControllerDescription controller;
  ReceiverFrame frame;
  std::uint64_t seed{1};
};
Result<StickScript> load_sticks(const std::string& path, const StickSetting& setting);

/// A plan with everything it names. `controller`, `mixer`: paths of files to use instead of the plan's own, which are then not read.
Result<Plan> load_plan(const std::string& path, const std::optional<std::string>& controller = std::nullopt,
                       const std::optional<std::string>& mixer = std::nullopt);

/// A plan from what Plan::document holds, for judging a stored run; checked as if it came from files. `origin` is for messages and
/// becomes Plan::path; the program image stays as the document names it.
Result<Plan> plan_from_document(const nlohmann::json& document, const std::string& origin);

/// The same plan judged by the mixer spec in the file `mixer`.
Result<Plan> with_mixer(const Plan& plan, const std::string& mixer);

/// The same plan under another seed (random moves are drawn anew).
Result<Plan> with_seed(const Plan& plan, std::uint64_t seed);

/// The same plan, but only these of its checks are played; empty: all. Error{bad_file} names one that it does not have.
Result<Plan> with_only(const Plan& plan, const std::vector<std::string>& checks);

struct Validated {
  FileKind kind{};
  std::string name;  ///< as the file says
};
/// Check a file of any kind, by its "format"; a plan with everything it names.
Result<Validated> validate_file(const std::string& path);

}  // namespace midstick::script
