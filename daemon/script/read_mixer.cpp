// Mixer spec: numbers in the right order, contradictions refused.
#include <map>

#include "daemon/script/readers.hpp"

namespace midstick::script {
namespace {

using nlohmann::json;

mixer::Law law_of(const std::string& name) {
  static const std::map<std::string, mixer::Law> laws{{"clip", mixer::Law::clip},
                                                      {"proportional", mixer::Law::proportional},
                                                      {"throttle_priority", mixer::Law::throttle_priority},
                                                      {"steering_priority", mixer::Law::steering_priority},
                                                      {"blend", mixer::Law::blend},
                                                      {"halved", mixer::Law::halved}};
  return laws.at(name);
}

mixer::DeadBandKind dead_band_of(const std::string& name) {
  if (name == "jump") return mixer::DeadBandKind::jump;
  return name == "continuous" ? mixer::DeadBandKind::continuous : mixer::DeadBandKind::none;
}

mixer::InputSpec read_input(const json& entry) {
  mixer::InputSpec in;
  in.name = entry["input"];
  in.low_us = entry["low_us"];
  in.centre_us = entry["centre_us"];
  in.high_us = entry["high_us"];
  in.reversed = entry["reversed"];
  in.dead_band = dead_band_of(entry["dead_band"]["kind"]);
  in.dead_band_half_us = entry["dead_band"]["half_width_us"];
  in.expo = entry["expo"];
  in.rate = entry["rate"];
  return in;
}

mixer::OutputSpec read_output(const json& entry) {
  mixer::OutputSpec out;
  out.name = entry["output"];
  out.low_us = entry["low_us"];
  out.neutral_us = entry["neutral_us"];
  out.high_us = entry["high_us"];
  out.reversed = entry["reversed"];
  out.reverse_limit = entry["reverse_limit"];
  out.trim_us = entry["trim_us"];
  out.clamp_low_us = entry["clamp_low_us"];
  out.clamp_high_us = entry["clamp_high_us"];
  out.esc = read_esc(entry, out);
  return out;
}

/// `keys` of the object at `pointer` must rise strictly.
std::optional<Error> rising(const Source& source, const std::string& pointer, std::initializer_list<const char*> keys) {
  const json& entry = source.value[json::json_pointer(pointer)];
  const char* before = nullptr;
  for (const char* key : keys) {
    if (before && entry[before].get<double>() >= entry[key].get<double>())
      return source.error(child(pointer, key), "found " + std::string(key) + " " + shown(entry[key]) + "; expected more than " + before +
                                                   ", which is " + shown(entry[before]));
    before = key;
  }
  return std::nullopt;
}

std::optional<Error> check_input(const Source& source, const std::string& pointer) {
  if (auto error = rising(source, pointer, {"low_us", "centre_us", "high_us"})) return error;
  const mixer::InputSpec in = read_input(source.value[json::json_pointer(pointer)]);
  const std::string at = pointer + "/dead_band/half_width_us";
  const std::string found = "found " + shown(in.dead_band_half_us);
  if (in.dead_band == mixer::DeadBandKind::none && in.dead_band_half_us > 0)
    return source.error(at, found + " with kind none; expected 0, or kind jump or continuous");
  if (in.dead_band != mixer::DeadBandKind::none && in.dead_band_half_us <= 0)
    return source.error(at, found + "; expected more than 0 for this kind of dead band");
  if (in.dead_band_half_us >= std::min(in.centre_us - in.low_us, in.high_us - in.centre_us))
    return source.error(at, found + "; expected a dead band inside the stick's travel");
  return std::nullopt;
}

std::optional<Error> check_output(Source& source, const std::string& pointer) {
  json& entry = source.value[json::json_pointer(pointer)];
  if (auto error = rising(source, pointer, {"low_us", "neutral_us", "high_us"})) return error;
  if (!entry.contains("clamp_low_us")) entry["clamp_low_us"] = entry["low_us"];
  if (!entry.contains("clamp_high_us")) entry["clamp_high_us"] = entry["high_us"];
  if (auto error = rising(source, pointer, {"clamp_low_us", "neutral_us", "clamp_high_us"})) return error;
  return check_esc(source, pointer, read_output(entry));
}

std::optional<Error> check(Source& source) {
  for (const char* stick : {"/throttle", "/steering"})
    if (auto error = check_input(source, stick)) return error;
  for (const char* side : {"/left", "/right"})
    if (auto error = check_output(source, side)) return error;
  const json& file = source.value;
  if (file["throttle"]["input"] == file["steering"]["input"])
    return source.error("/steering/input", "found the throttle's input; expected another");
  if (file["left"]["output"] == file["right"]["output"])
    return source.error("/right/output", "found the left side's output; expected another");
  return rising(source, "/frame", {"period_low_ms", "period_high_ms"});
}

}  // namespace

Result<mixer::MixerSpec> read_mixer(Source& source) {
  if (auto error = check(source)) return *error;
  const json& file = source.value;
  mixer::MixerSpec spec;
  spec.name = file["name"];
  spec.throttle = read_input(file["throttle"]);
  spec.steering = read_input(file["steering"]);
  spec.law = law_of(file["mix"]["law"]);
  spec.blend = file["mix"]["blend"];
  spec.reverse_steering = file["mix"]["reverse_steering"] == "car" ? mixer::ReverseSteering::car : mixer::ReverseSteering::tank;
  spec.left = read_output(file["left"]);
  spec.right = read_output(file["right"]);
  spec.latency_max_ms = file["latency_max_ms"];
  const json& loss = file["loss"];
  spec.loss = {loss["safe_within_ms"], loss["safe_half_width_us"], loss["pulses_may_stop"], loss["tolerate_frames"]};
  const json& arm = file["arm"];
  spec.arm = {arm["neutral_ms"], arm["neutral_half_width_us"], arm["boot_ms"]};
  const json& frame = file["frame"];
  spec.frame = {frame["period_low_ms"], frame["period_high_ms"], frame.value("nominal_ms", 0.0)};
  spec.clock_percent = file["clock_percent"];
  return spec;
}

}  // namespace midstick::script
