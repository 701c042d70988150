#include "daemon/store/capture_file.hpp"

#include <cmath>
#include <nlohmann/json.hpp>
#include <stdexcept>

namespace midstick::store {
namespace {

using capture::Capture;
using capture::Edge;
using nlohmann::json;

constexpr int kVersion = 1;
constexpr std::uint16_t kPlainHalfWidth = 1;

json edges_to_json(const std::vector<Edge>& edges) {
  json deltas = json::array(), lines = json::array(), stamps = json::array();
  std::int64_t previous = 0;
  for (std::size_t i = 0; i < edges.size(); ++i) {
    const Edge& e = edges[i];
    deltas.push_back(e.at.count - previous);
    lines.push_back(e.line * 2 + (e.level ? 1 : 0));
    if (e.half_width != kPlainHalfWidth || e.crowded) stamps.push_back({i, e.half_width, e.crowded});
    previous = e.at.count;
  }
  return {{"delta_ticks", std::move(deltas)}, {"line_level", std::move(lines)}, {"stamps", std::move(stamps)}};
}

std::vector<Edge> edges_from_json(const json& j) {
  const json& deltas = j.at("delta_ticks");
  const json& lines = j.at("line_level");
  if (!deltas.is_array() || !lines.is_array() || deltas.size() != lines.size())
    throw std::runtime_error("delta_ticks and line_level must be arrays of equal length");
  std::vector<Edge> edges(deltas.size());
  std::int64_t at = 0;
  for (std::size_t i = 0; i < edges.size(); ++i) {
    const auto delta = deltas[i].get<std::int64_t>();
    const auto line_level = lines[i].get<int>();
    if (line_level < 0 || line_level > 15) throw std::runtime_error("line_level " + std::to_string(line_level) + " at index " + std::to_string(i) + "; expected 0..15");
    if (i > 0 && delta < 0) throw std::runtime_error("edges are not in order of time at index " + std::to_string(i));
    at += delta;
    edges[i] = {{at}, static_cast<std::uint8_t>(line_level / 2), line_level % 2 == 1, kPlainHalfWidth, false};
  }
  for (const json& stamp : j.at("stamps")) {
    Edge& e = edges.at(stamp.at(0).get<std::size_t>());
    e.half_width = stamp.at(1).get<std::uint16_t>();
    e.crowded = stamp.at(2).get<bool>();
  }
  return edges;
}

json segments_to_json(const std::vector<capture::Segment>& segments) {
  json out = json::array();
  for (const auto& s : segments) {
    json marks = json::array();
    for (const auto& m : s.marks) marks.push_back({{"at", m.at.count}, {"label", m.label}, {"values", m.values}});
    out.push_back({{"check", s.check}, {"repeat", s.repeat}, {"begin", s.begin.count}, {"end", s.end.count}, {"marks", std::move(marks)}});
  }
  return out;
}

/// JSON has no NaN; a mark's missing value is written as null.
std::vector<double> values_from_json(const json& j) {
  std::vector<double> values;
  for (const json& v : j) values.push_back(v.is_null() ? std::nan("") : v.get<double>());
  return values;
}

std::vector<capture::Segment> segments_from_json(const json& j) {
  std::vector<capture::Segment> out;
  for (const json& s : j) {
    capture::Segment segment{s.at("check").get<int>(), s.at("repeat").get<int>(), {s.at("begin").get<std::int64_t>()}, {s.at("end").get<std::int64_t>()}, {}};
    for (const json& m : s.at("marks"))
      segment.marks.push_back({{m.at("at").get<std::int64_t>()}, m.at("label").get<std::string>(), values_from_json(m.at("values"))});
    out.push_back(std::move(segment));
  }
  return out;
}

json events_to_json(const std::vector<capture::Event>& events) {
  json out = json::array();
  for (const auto& e : events)
    out.push_back({{"at", e.at.count}, {"kind", static_cast<int>(e.kind)}, {"value", e.value}, {"since", e.since.count}, {"text", e.text}});
  return out;
}

std::vector<capture::Event> events_from_json(const json& j) {
  std::vector<capture::Event> out;
  for (const json& e : j) {
    const int kind = e.at("kind").get<int>();
    if (kind < 0 || kind > static_cast<int>(capture::EventKind::supply)) throw std::runtime_error("event kind " + std::to_string(kind) + " is not known");
    out.push_back({{e.at("at").get<std::int64_t>()}, static_cast<capture::EventKind>(kind), e.at("value").get<std::int64_t>(),
                   {e.at("since").get<std::int64_t>()}, e.at("text").get<std::string>()});
  }
  return out;
}

json clock_to_json(const clock::ClockMap& c) {
  return {{"boot_id", c.boot_id}, {"board_origin", c.board_origin.count}, {"host_origin", c.host_origin.count},
          {"ns_per_tick", c.ns_per_tick}, {"uncertainty_ppm", c.uncertainty_ppm}, {"samples", c.samples}};
}

clock::ClockMap clock_from_json(const json& j) {
  clock::ClockMap c;
  c.boot_id = j.at("boot_id").get<std::uint32_t>();
  c.board_origin = {j.at("board_origin").get<std::int64_t>()};
  c.host_origin = {j.at("host_origin").get<std::int64_t>()};
  c.ns_per_tick = j.at("ns_per_tick").get<double>();
  c.uncertainty_ppm = j.at("uncertainty_ppm").get<double>();
  c.samples = j.at("samples").get<int>();
  if (!(c.ns_per_tick > 50 && c.ns_per_tick < 75)) throw std::runtime_error("/clock/ns_per_tick is not near 62.5");
  return c;
}

json identity_to_json(const capture::Identity& id) {
  return {{"board", id.board}, {"boot_id", id.boot_id}, {"firmware", id.firmware}, {"schema_hash", id.schema_hash},
          {"controller", id.controller}, {"controller_image", id.controller_image}, {"bench_address", id.bench_address}};
}

capture::Identity identity_from_json(const json& j) {
  return {j.at("board").get<std::string>(), j.at("boot_id").get<std::uint32_t>(), j.at("firmware").get<std::string>(),
          j.at("schema_hash").get<std::string>(), j.at("controller").get<std::string>(), j.at("controller_image").get<std::string>(),
          j.at("bench_address").get<std::string>()};
}

}  // namespace

std::string capture_to_json(const Capture& c) {
  const json out = {{"format", "midstick capture " + std::to_string(kVersion)},
                    {"identity", identity_to_json(c.identity)},
                    {"clock", clock_to_json(c.clock)},
                    {"begin", c.begin.count},
                    {"end", c.end.count},
                    {"complete", c.complete},
                    {"incomplete_reason", c.incomplete_reason},
                    {"segments", segments_to_json(c.segments)},
                    {"events", events_to_json(c.events)},
                    {"stimulus", edges_to_json(c.stimulus)},
                    {"response", edges_to_json(c.response)}};
  return out.dump() + "\n";
}

Result<Capture> capture_from_json(std::string_view text, const std::string& where) try {
  const json j = json::parse(text);
  const auto format = j.at("format").get<std::string>();
  if (format != "midstick capture " + std::to_string(kVersion))
    return Error{ErrorKind::bad_file, where + ": /format is \"" + format + "\"; expected \"midstick capture 1\""};
  Capture c;
  c.identity = identity_from_json(j.at("identity"));
  c.clock = clock_from_json(j.at("clock"));
  c.begin = {j.at("begin").get<std::int64_t>()};
  c.end = {j.at("end").get<std::int64_t>()};
  c.complete = j.at("complete").get<bool>();
  c.incomplete_reason = j.at("incomplete_reason").get<std::string>();
  c.segments = segments_from_json(j.at("segments"));
  c.events = events_from_json(j.at("events"));
  c.stimulus = edges_from_json(j.at("stimulus"));
  c.response = edges_from_json(j.at("response"));
  return c;
} catch (const std::exception& e) {  // nlohmann's errors and ours carry the place
  return Error{ErrorKind::bad_file, where + ": is not a midstick capture: " + e.what()};
}

}  // namespace midstick::store
