// Mixer spec from its file. What no schema can say about it is in check_mixer.cpp.
#include "daemon/script/check_mixer.hpp"

#include <map>

#include "daemon/script/readers.hpp"

namespace midstick::script {
namespace {

using mixer::DeadBandKind;
using mixer::Law;
using nlohmann::json;

Law law_of(const std::string& name) {
  static const std::map<std::string, Law> laws{{"clip", Law::clip},
                                               {"proportional", Law::proportional},
                                               {"throttle_priority", Law::throttle_priority},
                                               {"steering_priority", Law::steering_priority},
                                               {"blend", Law::blend},
                                               {"halved", Law::halved},
                                               {"inner_wheel", Law::inner_wheel},
                                               {"curvature", Law::curvature},
                                               {"elevon", Law::elevon},
                                               {"v_tail", Law::v_tail},
                                               {"matrix", Law::matrix},
                                               {"table", Law::table}};
  return laws.at(name);
}

DeadBandKind dead_band_of(const std::string& name) {
  static const std::map<std::string, DeadBandKind> kinds{
      {"none", DeadBandKind::none},   {"jump", DeadBandKind::jump}, {"continuous", DeadBandKind::continuous},
      {"curve", DeadBandKind::curve}, {"soft", DeadBandKind::soft}, {"hysteresis", DeadBandKind::hysteresis}};
  return kinds.at(name);
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
  in.dead_band_hysteresis_us = entry["dead_band"]["hysteresis_us"];
  in.dead_band_softness = entry["dead_band"]["softness"];
  in.square = entry["square"];
  in.expo = entry["expo"];
  in.rate = entry["rate"];
  in.slew_up = entry["slew_up"];
  in.slew_down = entry["slew_down"];
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
  out.start_offset = entry["start_offset"];
  out.trim_us = entry["trim_us"];
  out.clamp_low_us = entry["clamp_low_us"];
  out.clamp_high_us = entry["clamp_high_us"];
  out.esc = read_esc(entry, out);
  return out;
}

std::vector<double> positions(const json& percent) {
  std::vector<double> x;
  for (const json& p : percent) x.push_back(p.get<double>() / 100);
  return x;
}

void read_mix(const json& mix, mixer::MixerSpec& spec) {
  spec.law = law_of(mix["law"]);
  spec.blend = mix["blend"];
  spec.reverse_steering = mix["reverse_steering"] == "car" ? mixer::ReverseSteering::car : mixer::ReverseSteering::tank;
  spec.wheel_limit = mix["wheel_limit"];
  spec.quick_turn = mix["quick_turn"];
  spec.gain_t = mix["gain_t"];
  spec.gain_s = mix["gain_s"];
  spec.pivot_scale = mix["pivot_scale"];
  spec.speed_scale = mix["speed_scale"];
  spec.matrix = mix["matrix"].get<std::vector<std::vector<double>>>();
  if (!mix.contains("table")) return;
  const json& table = mix["table"];
  spec.table = {positions(table["throttle_percent"]), positions(table["steering_percent"]),
                table["left_us"].get<std::vector<std::vector<double>>>(), table["right_us"].get<std::vector<std::vector<double>>>()};
}

}  // namespace

Result<mixer::MixerSpec> read_mixer(Source& source) {
  complete_clamps(source);
  const json& file = source.value;
  mixer::MixerSpec spec;
  spec.name = file["name"];
  spec.throttle = read_input(file["throttle"]);
  spec.steering = read_input(file["steering"]);
  for (const json& entry : file["more_inputs"]) spec.more_inputs.push_back(read_input(entry));
  read_mix(file["mix"], spec);
  spec.left = read_output(file["left"]);
  spec.right = read_output(file["right"]);
  for (const json& entry : file["more_outputs"]) spec.more_outputs.push_back(read_output(entry));
  spec.turn_rest_ms = file["turn_rest_ms"];
  spec.latency_max_ms = file["latency_max_ms"];
  const json& loss = file["loss"];
  spec.loss = {loss["safe_within_ms"], loss["safe_half_width_us"], loss["pulses_may_stop"], loss["tolerate_frames"]};
  const json& arm = file["arm"];
  spec.arm = {arm["neutral_ms"], arm["neutral_half_width_us"], arm["boot_ms"]};
  const json& frame = file["frame"];
  spec.frame = {frame["period_low_ms"], frame["period_high_ms"], frame.value("nominal_ms", 0.0)};
  spec.clock_percent = file["clock_percent"];
  const json& r = file["receiver"];
  spec.receiver = {r["accept_low_us"], r["accept_high_us"], r["reject_low_us"], r["reject_high_us"],
                   r["runt_us"],       r["wild_frames"],    r["period_low_ms"], r["period_high_ms"]};
  if (auto error = contradiction(source, spec)) return *error;
  return spec;
}

}  // namespace midstick::script
