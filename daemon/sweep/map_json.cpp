// map.json, of controllers and receivers. Layout: schema/map.schema.json.
#include <cmath>
#include <nlohmann/json.hpp>

#include "daemon/sweep/write_map.hpp"

namespace midstick::sweep {
namespace {

using nlohmann::ordered_json;

constexpr double kThousandth = 1e3;

ordered_json rounded(double x) {
  return std::isfinite(x) ? ordered_json(std::round(x * kThousandth) / kThousandth) : ordered_json(nullptr);
}

ordered_json quantity(const Value& v, const char* unit) { return {{"value", rounded(v.value)}, {"U", rounded(v.u)}, {"unit", unit}}; }
ordered_json quantity(const std::optional<Value>& v, const char* unit) { return v ? quantity(*v, unit) : ordered_json(nullptr); }
/// A gain wants more digits than a width.
ordered_json gain(const std::optional<Value>& v) {
  if (!v) return nullptr;
  return {{"value", std::round(v->value * 1e6) / 1e6}, {"U", std::ceil(v->u * 1e6) / 1e6}, {"unit", "us/us"}};
}

ordered_json head(const MapFacts& facts, const char* kind, const std::string& name, const std::string& bench) {
  return {{"format", "midstick map 1"},
          {"of", kind},
          {"name", name},
          {"bench", bench},
          {"when", facts.when},
          {"made_by", facts.program},
          {"uncertainty", "U is the half width of a 95 % interval, in the unit of its value; widths are of true time"}};
}

ordered_json side_json(const SideMap& s) {
  const SideFit& f = s.fit;
  if (!f.answers) return {{"answers", false}};
  return {{"answers", true},
          {"edge", quantity(s.edge, "us")},
          {"edge_leaving", quantity(s.leaving, "us")},
          {"edge_entering", quantity(s.entering, "us")},
          {"edge_hysteresis", quantity(s.hysteresis, "us")},
          {"jumps_at_edge", f.jumps},
          {"start_offset", quantity(f.offset, "us")},
          {"gain", gain(f.gain)},
          {"gain_from_us", rounded(s.gain_from)},
          {"gain_to_us", rounded(s.gain_to)},
          {"straight", f.straight},
          {"linearity_error", quantity(Value{f.linearity, f.last.u}, "us")},
          {"fit_residual_sd_us", rounded(f.residual_sd)},
          {"clips_from", quantity(s.end, "us")},
          {"output_at_end", quantity(f.last, "us")}};
}

ordered_json slew_json(const Slew& s) {
  return {{"out", quantity(s.out_us_s, "us/s")},
          {"back", quantity(s.back_us_s, "us/s")},
          {"rest_between_ahead_and_back", quantity(s.rest_ms, "ms")}};
}

ordered_json curve_json(const CurveMap& c) {
  ordered_json out{{"input", c.input}, {"output", c.output}, {"answers", c.answers}, {"neutral", quantity(c.neutral, "us")}};
  if (!c.answers) return out;
  out["low_side"] = side_json(c.low);
  out["high_side"] = side_json(c.high);
  out["hysteresis"] = quantity(c.hysteresis, "us");
  out["monotonic"] = c.monotonic;
  out["largest_step_back"] = quantity(Value{c.step_back, c.step_back_u}, "us");
  out["smallest_step_us"] = c.smallest_step ? rounded(*c.smallest_step) : ordered_json(nullptr);
  out["slew"] = slew_json(c.slew);
  if (c.fast) out["fast"] = {{"lag_ms", rounded(c.fast->lag_ms)}, {"largest_residual_us", rounded(c.fast->residual_us)}};
  return out;
}

ordered_json grid_json(const Map& map) {
  ordered_json rows = ordered_json::array();
  for (const GridPoint& p : map.grid) {
    ordered_json row{{"in_us", ordered_json::array()}, {"out", ordered_json::array()}};
    for (const double in : p.in) row["in_us"].push_back(rounded(in));
    for (const Level& l : p.out) row["out"].push_back(quantity(Value{l.us, l.u}, "us"));
    rows.push_back(std::move(row));
  }
  return rows;
}

ordered_json timing_json(const Map& map) {
  const Pace& p = map.probed.pace;
  return {{"armed_after_ms", rounded(p.arm_ms)}, {"small_step_ms", rounded(p.small_ms)}, {"out_ms", rounded(p.out_ms)},
          {"back_ms", rounded(p.back_ms)},       {"turn_ms", rounded(p.turn_ms)},        {"board_time_s", rounded(map.board_s)}};
}

}  // namespace

std::string map_json(const Map& map, const MapFacts& facts) {
  ordered_json out = head(facts, "controller", map.controller, map.bench);
  const Settings& s = map.settings;
  out["swept"] = {{"low_us", s.low_us},     {"centre_us", s.centre_us},       {"high_us", s.high_us},
                  {"step_us", s.step_us},   {"fine_step_us", s.fine_step_us}, {"grid", s.grid},
                  {"stick_us", s.stick_us}, {"frame_us", s.frame_us}};
  out["timing"] = timing_json(map);
  out["inputs"] = map.inputs;
  out["outputs"] = ordered_json::array();
  for (std::size_t o = 0; o < map.outputs.size(); ++o)
    out["outputs"].push_back({{"name", map.outputs[o]},
                              {"neutral", quantity(map.neutral[o], "us")},
                              {"lowest", quantity(map.low[o], "us")},
                              {"highest", quantity(map.high[o], "us")},
                              {"frame_ms", rounded(map.probed.frame_ms[o])}});
  out["curves"] = ordered_json::array();
  for (const CurveMap& c : map.curves) out["curves"].push_back(curve_json(c));
  out["coupling"] = ordered_json::array();
  for (const Coupling& c : map.coupling)
    out["coupling"].push_back({{"output", c.output},
                               {"unclipped", quantity(Value{c.unclipped_us, c.u}, "us")},
                               {"largest", quantity(Value{c.largest_us, c.u}, "us")},
                               {"largest_at_us", {rounded(c.at_first), rounded(c.at_second)}}});
  out["grid"] = grid_json(map);
  out["grid_unsettled"] = map.unsettled;
  return out.dump(1) + "\n";
}

std::string map_json(const ReceiverMap& map, const MapFacts& facts) {
  ordered_json out = head(facts, "receiver", map.name, map.bench);
  out["frame"] = quantity(map.period_us, "us");
  out["channels"] = ordered_json::array();
  for (const ChannelMap& c : map.channels)
    out["channels"].push_back({{"name", c.name},
                               {"low", quantity(c.low, "us")},
                               {"centre", quantity(c.centre, "us")},
                               {"high", quantity(c.high, "us")},
                               {"trim", quantity(c.trim, "us")},
                               {"back_from_low", quantity(c.back_from_low, "us")},
                               {"back_from_high", quantity(c.back_from_high, "us")},
                               {"jitter_us", rounded(c.jitter_us)},
                               {"smallest_step_us", rounded(c.smallest_step_us)},
                               {"others_moved_us", rounded(c.others_us)}});
  return out.dump(1) + "\n";
}

}  // namespace midstick::sweep
