// A plan: which checks, with which parameters, how often, in which order, under which seed.
//
// Loaded by script/load, which validates against the published schema and fills every parameter's default from it, so `params`
// is complete: a check reads it with at(). Plain values.
#pragma once

#include <algorithm>
#include <cstdint>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <vector>

#include "daemon/mixer/spec.hpp"
#include "daemon/script/controller.hpp"
#include "daemon/script/stick_script.hpp"

namespace midstick::script {

struct PlannedCheck {
  std::string kind;       ///< a check of the plan schema: "neutral", "static-mix", ... "power-up"
  std::string name;       ///< unique in the plan; defaults to kind
  nlohmann::json params;  ///< complete, defaults filled in
  int repeats{1};
  std::optional<StickScript> script;  ///< sticks of the builder's own, where the kind takes them
};

struct Plan {
  std::string name;
  std::string path;  ///< file it came from
  std::uint64_t seed{1};
  bool shuffle{false};  ///< order: as given, or shuffled by the seed
  mixer::MixerSpec spec;
  ControllerDescription controller;
  double guard_band{1};  ///< decision rule: in parts of a value's uncertainty U (95 %); 0 is simple acceptance
  ReceiverFrame frame;   ///< how the bench plays the receiver, unless a script says otherwise
  std::vector<PlannedCheck> checks;
  std::vector<std::string> only;  ///< names of the checks to play; empty: all
  bool plays(const PlannedCheck& check) const { return only.empty() || std::ranges::find(only, check.name) != only.end(); }
  nlohmann::json document;  ///< plan, mixer, controller, sticks as read (defaults filled): see plan_from_document
};

}  // namespace midstick::script
