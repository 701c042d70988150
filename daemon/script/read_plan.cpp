// The plan file itself, and whether the names in it, in the mixer spec and in the controller description agree.
#include <algorithm>
#include <set>

#include "daemon/script/check_mixer.hpp"
#include "daemon/script/feasible.hpp"
#include "daemon/script/percent.hpp"
#include "daemon/script/readers.hpp"

namespace midstick::script {
namespace {

using nlohmann::json;

/// Members of a check that are not its parameters.
bool is_common(const std::string& key) { return key == "check" || key == "name" || key == "repeats" || key == "script"; }

PlannedCheck read_check(const json& entry) {
  PlannedCheck check;
  check.kind = entry["check"];
  check.name = entry.value("name", check.kind);
  check.repeats = entry["repeats"];
  check.params = json::object();
  for (const auto& [key, value] : entry.items())
    if (!is_common(key)) check.params[key] = value;
  return check;
}

/// A parameter NAME_low_UNIT must not be over its NAME_high_UNIT.
std::optional<Error> check_ranges(const Source& source, const std::string& pointer, const json& params) {
  for (const auto& [key, low] : params.items()) {
    const auto at = key.find("_low_");
    if (at == std::string::npos) continue;
    const std::string partner = key.substr(0, at) + "_high_" + key.substr(at + 5);
    if (params.contains(partner) && low.get<double>() > params[partner].get<double>())
      return source.error(child(pointer, key),
                          "found " + key + " " + shown(low) + "; expected at most " + partner + ", which is " + shown(params[partner]));
  }
  return std::nullopt;
}

std::string listed(const std::vector<ControllerPin>& pins) {
  std::string out;
  for (const ControllerPin& pin : pins) out += (out.empty() ? "" : ", ") + pin.name;
  return out;
}

}  // namespace

Result<Plan> read_plan(const Source& source) {
  const json& file = source.value;
  Plan plan;
  plan.name = file["name"];
  plan.path = source.path;
  plan.seed = file["seed"];
  plan.shuffle = file["order"] == "shuffled";
  plan.guard_band = file["guard_band"];
  plan.frame = read_frame(file["frame"]);
  std::set<std::string> names;
  for (std::size_t i = 0; i < file["checks"].size(); ++i) {
    plan.checks.push_back(read_check(file["checks"][i]));
    if (auto error = check_ranges(source, child("/checks", i), plan.checks.back().params)) return *error;
    const std::string& name = plan.checks.back().name;
    if (!names.insert(name).second)
      return source.error(child("/checks", i), "found the check name " + shown(name) + " a second time; expected another \"name\"");
  }
  plan.only = file["only"].get<std::vector<std::string>>();
  for (std::size_t i = 0; i < plan.only.size(); ++i)
    if (!names.contains(plan.only[i]))
      return source.error(child("/only", i), "found " + shown(plan.only[i]) + "; expected the name of one of the checks");
  return plan;
}

Status names_match(const Plan& plan, const Source& plan_source, const Source& mixer_source) {
  const ControllerDescription& controller = plan.controller;
  const std::string of = " of controller " + shown(controller.name) + ": ";
  const std::vector<const mixer::InputSpec*> ins = mixer::inputs(plan.spec);
  for (std::size_t i = 0; i < ins.size(); ++i)
    if (!controller.input(ins[i]->name))
      return mixer_source.error(place_of_input(i) + "/input",
                                "found the input " + shown(ins[i]->name) + "; expected an input" + of + listed(controller.inputs));
  const std::vector<const mixer::OutputSpec*> outs = mixer::outputs(plan.spec);
  for (std::size_t i = 0; i < outs.size(); ++i)
    if (!controller.output(outs[i]->name))
      return mixer_source.error(place_of_output(i) + "/output",
                                "found the output " + shown(outs[i]->name) + "; expected an output" + of + listed(controller.outputs));
  for (const auto& [place, named] : {std::pair("/frame/phase_us", &plan.frame.phase_us), {"/frame/drift_us", &plan.frame.drift_us}})
    for (const auto& [name, us] : *named)
      if (!controller.input(name))
        return plan_source.error(child(place, name),
                                 "found the input " + shown(name) + "; expected an input" + of + listed(controller.inputs));
  for (std::size_t i = 0; i < plan.checks.size(); ++i) {
    const std::string by = plan.checks[i].params.value("by", "none");
    const bool word = by == "none" || by == "hand" || by == "nobody" || by == "virtual";
    if (!word && !controller.relay(by))
      return plan_source.error(child("/checks", i) + "/by",
                               "found " + shown(by) + "; expected none, hand, or a relay of controller " + shown(controller.name));
  }
  return Ok{};
}

Status frame_fits(const Plan& plan, const Source& plan_source) {
  StickScript full;
  full.frame = plan.frame;
  full.moves.resize(1);
  full.moves[0].for_ms = (plan.frame.period_us + plan.frame.dither_us) / 1e3;
  for (const ControllerPin& pin : plan.controller.inputs)
    full.moves[0].from[pin.name] = std::max(width_of_percent(plan.spec, pin.name, 100), width_of_percent(plan.spec, pin.name, -100));
  if (const auto trouble = first_trouble(full, plan.controller))
    return plan_source.error("/frame", "with every stick at its long end: " + trouble->what);
  return Ok{};
}

}  // namespace midstick::script
