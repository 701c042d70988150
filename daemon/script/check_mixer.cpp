#include "daemon/script/check_mixer.hpp"

#include <algorithm>
#include <set>

#include "daemon/script/readers.hpp"

namespace midstick::script {
namespace {

using mixer::DeadBandKind;
using mixer::Law;
using nlohmann::json;

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

std::optional<Error> check_dead_band(const Source& source, const std::string& pointer, const mixer::InputSpec& in) {
  const std::string at = pointer + "/dead_band/half_width_us", found = "found " + shown(in.dead_band_half_us);
  const bool edgeless = in.dead_band == DeadBandKind::none || in.dead_band == DeadBandKind::soft;
  if (edgeless && in.dead_band_half_us > 0)
    return source.error(at, found + " with kind " + (in.dead_band == DeadBandKind::none ? "none" : "soft") +
                                "; expected 0, or a kind with an edge, as jump or continuous");
  if (edgeless) return std::nullopt;
  if (in.dead_band_half_us <= 0) return source.error(at, found + "; expected more than 0 for this kind of dead band");
  const double h = in.dead_band == DeadBandKind::hysteresis ? in.dead_band_hysteresis_us : 0;
  if (h >= in.dead_band_half_us)
    return source.error(pointer + "/dead_band/hysteresis_us",
                        "found " + shown(h) + "; expected less than half_width_us, which is " + shown(in.dead_band_half_us));
  if (in.dead_band_half_us + h >= std::min(in.centre_us - in.low_us, in.high_us - in.centre_us))
    return source.error(at, found + "; expected a dead band inside the stick's travel");
  return std::nullopt;
}

std::optional<Error> check_input(const Source& source, const std::string& pointer, const mixer::MixerSpec& spec,
                                 const mixer::InputSpec& in) {
  if (auto error = rising(source, pointer, {"low_us", "centre_us", "high_us"})) return error;
  if (in.low_us < spec.receiver.accept_low_us)
    return source.error(pointer + "/low_us", "found " + shown(in.low_us) + "; expected at least the receiver's accept_low_us, which is " +
                                                 shown(spec.receiver.accept_low_us));
  if (in.high_us > spec.receiver.accept_high_us)
    return source.error(pointer + "/high_us", "found " + shown(in.high_us) + "; expected at most the receiver's accept_high_us, which is " +
                                                  shown(spec.receiver.accept_high_us));
  return check_dead_band(source, pointer, in);
}

std::optional<Error> check_output(const Source& source, const std::string& pointer, const mixer::MixerSpec& spec,
                                  const mixer::OutputSpec& out) {
  if (auto error = rising(source, pointer, {"low_us", "neutral_us", "high_us"})) return error;
  if (auto error = rising(source, pointer, {"clamp_low_us", "neutral_us", "clamp_high_us"})) return error;
  if (auto error = check_esc(source, pointer, out)) return error;
  if (spec.law != Law::table) return std::nullopt;
  const mixer::OutputSpec plain;
  const auto shaped = [&](const char* key, const json& found, const json& expected) {
    return source.error(child(pointer, key),
                        "found " + shown(found) + " with law table, which holds widths as they are sent; expected " + shown(expected));
  };
  if (out.reversed) return shaped("reversed", out.reversed, false);
  if (out.reverse_limit != plain.reverse_limit) return shaped("reverse_limit", out.reverse_limit, plain.reverse_limit);
  if (out.start_offset != plain.start_offset) return shaped("start_offset", out.start_offset, plain.start_offset);
  if (out.trim_us != plain.trim_us) return shaped("trim_us", out.trim_us, plain.trim_us);
  return std::nullopt;
}

/// No name twice among the inputs, nor among the outputs.
std::optional<Error> check_names(const Source& source, const mixer::MixerSpec& spec) {
  std::set<std::string> seen;
  const auto ins = mixer::inputs(spec);
  for (std::size_t i = 0; i < ins.size(); ++i)
    if (!seen.insert(ins[i]->name).second)
      return source.error(place_of_input(i) + "/input", i == 1 ? "found the throttle's input; expected another"
                                                               : "found the input " + shown(ins[i]->name) + " again; expected another");
  seen.clear();
  const auto outs = mixer::outputs(spec);
  for (std::size_t i = 0; i < outs.size(); ++i)
    if (!seen.insert(outs[i]->name).second)
      return source.error(place_of_output(i) + "/output", i == 1 ? "found the left side's output; expected another"
                                                                 : "found the output " + shown(outs[i]->name) + " again; expected another");
  return std::nullopt;
}

/// `rows` of `columns` each, or where they are not.
std::optional<Error> check_shape(const Source& source, const std::string& pointer, const std::vector<std::vector<double>>& found,
                                 std::size_t rows, std::size_t columns, const char* row_is, const char* column_is) {
  if (found.size() != rows)
    return source.error(pointer, "found " + std::to_string(found.size()) + " rows; expected " + std::to_string(rows) + ", one " + row_is);
  for (std::size_t i = 0; i < rows; ++i)
    if (found[i].size() != columns)
      return source.error(child(pointer, i), "found " + std::to_string(found[i].size()) + " numbers; expected " + std::to_string(columns) +
                                                 ", one " + column_is);
  return std::nullopt;
}

std::optional<Error> check_matrix(const Source& source, const mixer::MixerSpec& spec) {
  if (spec.law == Law::matrix)
    return check_shape(source, "/mix/matrix", spec.matrix, mixer::outputs(spec).size(), mixer::inputs(spec).size(), "an output",
                       "an input");
  if (!spec.matrix.empty()) return source.error("/mix/matrix", "found a matrix with another law; expected law matrix, or none");
  if (!spec.more_inputs.empty()) return source.error("/more_inputs", "found inputs that no law but matrix uses; expected law matrix");
  if (!spec.more_outputs.empty()) return source.error("/more_outputs", "found outputs that no law but matrix drives; expected law matrix");
  return std::nullopt;
}

std::optional<Error> check_axis(const Source& source, const std::string& pointer, const std::vector<double>& axis) {
  for (std::size_t i = 1; i < axis.size(); ++i)
    if (axis[i] <= axis[i - 1])
      return source.error(child(pointer, i), "found " + shown(source.value[json::json_pointer(child(pointer, i))]) +
                                                 "; expected more than the position before it");
  return std::nullopt;
}

std::optional<Error> check_table(const Source& source, const mixer::MixerSpec& spec) {
  const mixer::Table& table = spec.table;
  const bool given = !table.throttle.empty();
  if (spec.law != Law::table)
    return given ? std::optional(source.error("/mix/table", "found a table with another law; expected law table, or none")) : std::nullopt;
  if (!given) return source.error("/mix", "found law table and no table; expected \"table\"");
  if (auto error = check_axis(source, "/mix/table/throttle_percent", table.throttle)) return error;
  if (auto error = check_axis(source, "/mix/table/steering_percent", table.steering)) return error;
  for (const auto& [key, side] : {std::pair("left_us", &table.left), {"right_us", &table.right}})
    if (auto error = check_shape(source, child("/mix/table", key), *side, table.throttle.size(), table.steering.size(),
                                 "a throttle position", "a steering position"))
      return error;
  return std::nullopt;
}

}  // namespace

std::string place_of_input(std::size_t i) { return i == 0 ? "/throttle" : i == 1 ? "/steering" : child("/more_inputs", i - 2); }
std::string place_of_output(std::size_t i) { return i == 0 ? "/left" : i == 1 ? "/right" : child("/more_outputs", i - 2); }

void complete_clamps(Source& source) {
  const auto complete = [](json& out) {
    if (!out.contains("clamp_low_us")) out["clamp_low_us"] = out["low_us"];
    if (!out.contains("clamp_high_us")) out["clamp_high_us"] = out["high_us"];
  };
  complete(source.value["left"]);
  complete(source.value["right"]);
  for (json& out : source.value["more_outputs"]) complete(out);
}

std::optional<Error> contradiction(const Source& source, const mixer::MixerSpec& spec) {
  if (auto error = rising(source, "/receiver", {"reject_low_us", "accept_low_us", "accept_high_us", "reject_high_us"})) return error;
  if (auto error = rising(source, "/receiver", {"runt_us", "accept_low_us"})) return error;
  if (auto error = rising(source, "/receiver", {"period_low_ms", "period_high_ms"})) return error;
  const auto ins = mixer::inputs(spec);
  for (std::size_t i = 0; i < ins.size(); ++i)
    if (auto error = check_input(source, place_of_input(i), spec, *ins[i])) return error;
  const auto outs = mixer::outputs(spec);
  for (std::size_t i = 0; i < outs.size(); ++i)
    if (auto error = check_output(source, place_of_output(i), spec, *outs[i])) return error;
  if (auto error = check_names(source, spec)) return error;
  if (auto error = check_matrix(source, spec)) return error;
  if (auto error = check_table(source, spec)) return error;
  return rising(source, "/frame", {"period_low_ms", "period_high_ms"});
}

}  // namespace midstick::script
