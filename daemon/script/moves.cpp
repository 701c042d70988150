#include "daemon/script/moves.hpp"

#include <cmath>
#include <numbers>

#include "daemon/script/draw.hpp"
#include "daemon/script/feasible.hpp"
#include "daemon/script/percent.hpp"
#include "daemon/script/readers.hpp"
#include "daemon/script/receiver.hpp"

namespace midstick::script {
namespace {

using nlohmann::json;
using Sticks = MoveReader::Sticks;

Fault fault_of(const std::string& name) {
  if (name == "drop") return Fault::drop;
  if (name == "stuck_low") return Fault::stuck_low;
  if (name == "stuck_high") return Fault::stuck_high;
  if (name == "cut") return Fault::cut;
  if (name == "storm") return Fault::storm;
  return name == "runt" ? Fault::runt : Fault::notch;
}

ActionKind action_of(const std::string& name) {
  if (name == "power_on") return ActionKind::power_on;
  if (name == "port_open") return ActionKind::port_open;
  if (name == "port_close") return ActionKind::port_close;
  return name == "power_off" ? ActionKind::power_off : ActionKind::reset;
}

/// `share` of the way from `a` to `b`, both complete; both ends are exact.
Sticks between(const Sticks& a, const Sticks& b, double share) {
  Sticks out = a;
  for (auto& [input, us] : out) us = us * (1 - share) + b.at(input) * share;
  return out;
}

}  // namespace

MoveReader::MoveReader(const Source& source, const StickSetting& setting)
    : source_(source),
      setting_(setting),
      percent_(source.value["unit"] == "percent"),
      seed_(mixed(source.value["seed"].get<std::uint64_t>(), setting.seed)) {
  for (const ControllerPin& pin : setting.controller.inputs) at_[pin.name] = width_of_percent(setting.spec, pin.name, 0);
}

void MoveReader::fail(const std::string& pointer, const std::string& what) {
  if (!error_) error_ = source_.error(pointer, what);
}

double MoveReader::width(const std::string& input, double value, const std::string& pointer) {
  if (!at_.contains(input)) {
    fail(pointer, "found the input " + shown(input) + "; expected an input of controller " + shown(setting_.controller.name));
    return 0;
  }
  if (percent_ && std::abs(value) > 200) fail(pointer, "found " + shown(value) + " percent; expected -200 to 200");
  if (!percent_ && value < 1) fail(pointer, "found " + shown(value) + " us; expected 1 to 50000");
  return percent_ ? width_of_percent(setting_.spec, input, value) : value;
}

double MoveReader::amplitude(const std::string& input, double value) const {
  if (!percent_) return value;
  return (width_of_percent(setting_.spec, input, 100) - width_of_percent(setting_.spec, input, -100)) / 2 * value / 100;
}

Sticks MoveReader::sticks(const json& named, const std::string& pointer, const Sticks& base) {
  Sticks out = base;
  for (const auto& [input, value] : named.items()) out[input] = width(input, value.get<double>(), child(pointer, input));
  return out;
}

std::vector<Move> MoveReader::read(std::size_t index) {
  const json& file = source_.value["moves"][index];
  const std::string pointer = child("/moves", index);
  if (!file.contains("receiver")) return {read_one(file, pointer, index)};
  const ReceiverFrame frame = source_.value.contains("frame") ? read_frame(source_.value["frame"]) : setting_.frame;
  ReceiverScene scene{setting_.spec.throttle.name,
                      at_,
                      {},
                      width_of_percent(setting_.spec, setting_.spec.throttle.name, 100),
                      (frame.period_us + frame.dither_us) / 1e3};
  for (const auto& [input, us] : at_) scene.preset[input] = width_of_percent(setting_.spec, input, 0);
  auto moves = receiver_moves(file["receiver"].get<std::string>(), scene, file["for_ms"]);
  if (moves) return std::move(*moves);
  fail(pointer + "/for_ms", "found " + shown(file["for_ms"]) + " ms; expected at least " +
                                shown(receiver_behaviour(file["receiver"].get<std::string>())->least_ms + 2 * scene.frame_ms) +
                                " ms for this behaviour");
  return {};
}

Move MoveReader::read_one(const json& file, const std::string& pointer, std::size_t index) {
  Move move;
  move.mark = file.value("mark", "");
  for (const json& action : file.value("actions", json::array())) move.actions.push_back(action_of(action));
  move.action_within_ms = file.value("action_within_ms", 0.0);
  if (file.contains("frame")) move.frame = read_frame(file["frame"]);
  read_faults(file, pointer, move);
  move.from = at_;
  if (file.contains("hold")) {
    move.from = at_ = sticks(file["hold"], pointer + "/hold", at_);
  } else if (file.contains("ramp")) {
    move.kind = Move::Kind::ramp;
    move.from = sticks(file["ramp"]["from"], pointer + "/ramp/from", at_);
    move.to = at_ = sticks(file["ramp"]["to"], pointer + "/ramp/to", move.from);
  } else if (file.contains("sine")) {
    move.kind = Move::Kind::sine;
    move.from = at_ = sticks(file["sine"]["around"], pointer + "/sine/around", at_);
    for (const auto& [input, value] : file["sine"]["amplitude"].items()) {
      width(input, percent_ ? value.get<double>() : 1.0, child(pointer + "/sine/amplitude", input));
      if (!error_) move.amplitude_us[input] = amplitude(input, value);
    }
    move.period_ms = file["period_ms"];
  } else {
    move.kind = Move::Kind::points;
    move.point_ms = file["hold_ms"];
    read_points(file, pointer, index, move);
  }
  if (move.kind != Move::Kind::points) move.for_ms = file["for_ms"];
  if (move.kind == Move::Kind::sine && !error_)
    for (const auto& [input, us] : move.amplitude_us) at_[input] += us * std::sin(2 * std::numbers::pi * move.for_ms / move.period_ms);
  return move;
}

void MoveReader::read_points(const json& file, const std::string& pointer, std::size_t index, Move& move) {
  std::size_t count = 1;
  for (const char* key : {"points", "count"}) count = file.value(key, count);
  if (file.contains("grid"))
    for (const auto& [input, values] : file["grid"].items()) count = std::min(count * values.size(), kMaxPoints + 1);
  if (file.contains("list")) count = file["list"].size();
  points_ += count;
  if (points_ > kMaxPoints) return fail(pointer, "found more than 20000 positions up to here; expected at most 20000 in a script");

  if (file.contains("step"))
    step(file, pointer, move);
  else if (file.contains("sweep"))
    sweep(file, pointer, move);
  else if (file.contains("grid"))
    grid(file, pointer, move);
  else if (file.contains("list"))
    list(file, pointer, move);
  else
    random(file, pointer, index, move);
  move.for_ms = move.point_ms * static_cast<double>(move.points.size());
  if (!move.points.empty()) at_ = move.points.back();
}

void MoveReader::step(const json& file, const std::string& pointer, Move& move) {
  const Sticks from = sticks(file["step"]["from"], pointer + "/step/from", at_);
  const Sticks to = sticks(file["step"]["to"], pointer + "/step/to", from);
  for (int i = 0; i <= file["count"].get<int>(); ++i) move.points.push_back(i % 2 == 0 ? from : to);
}

void MoveReader::sweep(const json& file, const std::string& pointer, Move& move) {
  const Sticks from = sticks(file["sweep"]["from"], pointer + "/sweep/from", at_);
  const Sticks to = sticks(file["sweep"]["to"], pointer + "/sweep/to", from);
  if (error_) return;
  const int last = file["points"].get<int>() - 1;
  for (int i = 0; i <= last; ++i) move.points.push_back(between(from, to, static_cast<double>(i) / last));
}

void MoveReader::grid(const json& file, const std::string& pointer, Move& move) {
  std::vector<Sticks> points{at_};
  for (const auto& [input, values] : file["grid"].items()) {
    std::vector<Sticks> next;
    for (const Sticks& base : points)
      for (std::size_t i = 0; i < values.size(); ++i) {
        next.push_back(base);
        next.back()[input] = width(input, values[i], child(child(pointer + "/grid", input), i));
        if (error_) return;
      }
    points = std::move(next);
  }
  move.points = std::move(points);
}

void MoveReader::list(const json& file, const std::string& pointer, Move& move) {
  Sticks now = at_;
  for (std::size_t i = 0; i < file["list"].size() && !error_; ++i)
    move.points.push_back(now = sticks(file["list"][i], child(pointer + "/list", i), now));
}

void MoveReader::random(const json& file, const std::string& pointer, std::size_t index, Move& move) {
  const json& low = file["random"]["low"];
  const json& high = file["random"]["high"];
  for (const auto& [input, value] : low.items()) {
    const std::string at = child(pointer + "/random/high", input);
    if (!high.contains(input)) return fail(at, "found no high for " + shown(input) + ", which has a low; expected both");
    if (high[input] < value) return fail(at, "found " + shown(high[input]) + "; expected at least the low, " + shown(value));
  }
  for (const auto& [input, value] : high.items())
    if (!low.contains(input)) return fail(child(pointer + "/random/low", input), "found no low for " + shown(input) + "; expected both");
  const Sticks a = sticks(low, pointer + "/random/low", at_);
  const Sticks b = sticks(high, pointer + "/random/high", at_);
  if (error_) return;
  Draw draw(file.contains("seed") ? mixed(file["seed"].get<std::uint64_t>(), 0) : mixed(seed_, index));
  for (int i = 0; i < file["points"].get<int>(); ++i) {
    Sticks point = at_;
    for (const auto& [input, value] : low.items()) {
      const auto from = std::llround(a.at(input) * 1e3), to = std::llround(b.at(input) * 1e3);
      point[input] = static_cast<double>(draw.within(std::min(from, to), std::max(from, to))) / 1e3;
    }
    move.points.push_back(std::move(point));
  }
}

void MoveReader::read_faults(const json& file, const std::string& pointer, Move& move) {
  if (!file.contains("faults")) return;
  for (std::size_t i = 0; i < file["faults"].size(); ++i) {
    const json& entry = file["faults"][i];
    ChannelFault fault{entry["input"],    fault_of(entry["fault"]), entry["at_us"], entry["width_us"],
                       entry["at_to_us"], entry["for_us"],          entry["share"]};
    if (fault.input != "all") {
      if (!at_.contains(fault.input) && !setting_.controller.relay(fault.input))
        fail(child(pointer + "/faults", i) + "/input",
             "found the input " + shown(fault.input) + "; expected an input of controller " + shown(setting_.controller.name) + ", or all");
      move.faults.push_back(std::move(fault));
      continue;
    }
    for (const ControllerPin& pin : setting_.controller.inputs) {
      fault.input = pin.name;
      move.faults.push_back(fault);
    }
  }
}

}  // namespace midstick::script
