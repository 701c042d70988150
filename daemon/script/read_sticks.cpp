// Stick script: header, then each move by MoveReader, then a look whether it can be played at all.
#include <algorithm>
#include <iterator>
#include <set>

#include "daemon/script/feasible.hpp"
#include "daemon/script/moves.hpp"
#include "daemon/script/readers.hpp"

namespace midstick::script {
namespace {

using nlohmann::json;

void collect_keys(const json& named, std::set<std::string>& out) {
  for (const auto& [input, value] : named.items()) out.insert(input);
}

/// Every input that a file checked alone names.
std::set<std::string> inputs_named(const json& file) {
  std::set<std::string> out{"throttle", "steering"};
  const auto frame_keys = [&out](const json& holder) {
    if (!holder.contains("frame")) return;
    for (const char* key : {"phase_us", "drift_us"}) collect_keys(holder["frame"][key], out);
  };
  frame_keys(file);
  for (const json& move : file["moves"]) {
    frame_keys(move);
    for (const char* key : {"hold", "grid"})
      if (move.contains(key)) collect_keys(move[key], out);
    for (const char* key : {"step", "ramp", "sine", "sweep", "random"})
      if (move.contains(key))
        for (const json& sticks : move[key]) collect_keys(sticks, out);
    for (const json& sticks : move.value("list", json::array())) collect_keys(sticks, out);
    for (const json& fault : move.value("faults", json::array()))
      if (fault["input"] != "all") out.insert(fault["input"]);
  }
  return out;
}

/// The usual endpoints, and a controller that has the inputs named.
Result<StickSetting> stand_in(const Source& source) {
  StickSetting setting;
  setting.spec.throttle.name = "throttle";
  setting.spec.steering.name = "steering";
  setting.controller.name = "(any)";
  for (const std::string& input : inputs_named(source.value)) {
    const auto line = static_cast<std::uint8_t>(setting.controller.inputs.size());
    if (line == 6) return source.error("/moves", "found more than 6 inputs named; expected at most 6, as the bench has");
    setting.controller.inputs.push_back({input, "S" + std::to_string(line + 1), line, 0, 0});
  }
  return setting;
}

Result<StickScript> read_with(const Source& source, const StickSetting& setting) {
  const json& file = source.value;
  StickScript script;
  script.name = file["name"];
  script.seed = file["seed"];
  script.frame = file.contains("frame") ? read_frame(file["frame"]) : setting.frame;
  MoveReader reader(source, setting);
  std::vector<std::size_t> places;  // of each move in the file
  for (std::size_t i = 0; i < file["moves"].size(); ++i) {
    auto moves = reader.read(i);
    if (reader.error()) return *reader.error();
    places.resize(places.size() + moves.size(), i);
    std::ranges::move(moves, std::back_inserter(script.moves));
  }
  if (const auto trouble = first_trouble(script, setting.controller))
    return source.error(trouble->move < 0 ? "" : child("/moves", places[static_cast<std::size_t>(trouble->move)]), trouble->what);
  return script;
}

}  // namespace

ReceiverFrame read_frame(const json& frame) {
  ReceiverFrame out;
  out.period_us = frame["period_us"];
  out.jitter_us = frame["jitter_us"];
  out.dither_us = frame["dither_us"];
  for (const auto& [input, phase] : frame["phase_us"].items()) out.phase_us[input] = phase;
  for (const auto& [input, drift] : frame["drift_us"].items()) out.drift_us[input] = drift;
  out.overlap_us = frame["overlap_us"];
  const std::string order = frame["order"];
  using Order = ReceiverFrame::Order;
  out.order = order == "reversed"       ? Order::reversed
              : order == "simultaneous" ? Order::simultaneous
              : order == "overlapping"  ? Order::overlapping
                                        : Order::sequential;
  return out;
}

Result<StickScript> read_sticks(const Source& source, const StickSetting* setting) {
  if (setting) return read_with(source, *setting);
  auto alone = stand_in(source);
  if (!alone) return alone.error();
  return read_with(source, *alone);
}

}  // namespace midstick::script
