#include "daemon/store/capture_file.hpp"

#include <cmath>
#include <limits>
#include <nlohmann/json.hpp>
#include <stdexcept>

#include "daemon/store/calibration_file.hpp"

namespace midstick::store {
namespace {

using capture::Capture;
using capture::Edge;
using nlohmann::json;

constexpr int kVersion = 1;
constexpr std::uint16_t kPlainHalfWidth = 1;

/// Board time stays within this: 2^53 ticks are 17 years, and sums of two cannot overflow.
constexpr std::int64_t kMaxTicks = std::int64_t{1} << 53;

/// A whole number in a range. JSON lets a number be anything; a plain conversion of 1e300 would be undefined.
template <class Integer = std::int64_t>
Integer integer(const json& j, std::int64_t low, std::int64_t high) {
  const bool fits = j.is_number_unsigned() ? j.get<std::uint64_t>() <= static_cast<std::uint64_t>(high) : j.is_number_integer();
  if (!fits || j.get<std::int64_t>() < low || j.get<std::int64_t>() > high)
    throw std::runtime_error("found " + j.dump().substr(0, 40) + "; expected a whole number, " + std::to_string(low) + " to " +
                             std::to_string(high));
  return static_cast<Integer>(j.get<std::int64_t>());
}
std::int64_t ticks(const json& j) { return integer(j, -kMaxTicks, kMaxTicks); }

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
    const auto delta = ticks(deltas[i]);
    const auto line_level = integer<int>(lines[i], 0, 15);
    if (i > 0 && delta < 0) throw std::runtime_error("edges are not in order of time at index " + std::to_string(i));
    at += delta;
    if (at > kMaxTicks) throw std::runtime_error("time past 17 years at index " + std::to_string(i));
    edges[i] = {{at}, static_cast<std::uint8_t>(line_level / 2), line_level % 2 == 1, kPlainHalfWidth, false};
  }
  for (const json& stamp : j.at("stamps")) {
    Edge& e = edges.at(integer<std::size_t>(stamp.at(0), 0, kMaxTicks));
    e.half_width = integer<std::uint16_t>(stamp.at(1), 0, 65535);
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
    capture::Segment segment{integer<int>(s.at("check"), 0, 1'000'000),
                             integer<int>(s.at("repeat"), 0, 1'000'000),
                             {ticks(s.at("begin"))},
                             {ticks(s.at("end"))},
                             {}};
    for (const json& m : s.at("marks"))
      segment.marks.push_back({{ticks(m.at("at"))}, m.at("label").get<std::string>(), values_from_json(m.at("values"))});
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
    const auto kind = integer<int>(e.at("kind"), 0, static_cast<int>(capture::EventKind::supply));
    out.push_back({{ticks(e.at("at"))},
                   static_cast<capture::EventKind>(kind),
                   integer(e.at("value"), -kMaxTicks, kMaxTicks),
                   {ticks(e.at("since"))},
                   e.at("text").get<std::string>()});
  }
  return out;
}

json clock_to_json(const clock::ClockMap& c) {
  return {{"boot_id", c.boot_id},         {"board_origin", c.board_origin.count}, {"host_origin", c.host_origin.count},
          {"ns_per_tick", c.ns_per_tick}, {"uncertainty_ppm", c.uncertainty_ppm}, {"samples", c.samples}};
}

clock::ClockMap clock_from_json(const json& j) {
  clock::ClockMap c;
  c.boot_id = integer<std::uint32_t>(j.at("boot_id"), 0, 4'294'967'295);
  c.board_origin = {ticks(j.at("board_origin"))};
  c.host_origin = {
      integer(j.at("host_origin"), std::numeric_limits<std::int64_t>::min() / 2, std::numeric_limits<std::int64_t>::max() / 2)};
  c.ns_per_tick = j.at("ns_per_tick").get<double>();
  c.uncertainty_ppm = j.at("uncertainty_ppm").get<double>();
  c.samples = integer<int>(j.at("samples"), 0, 1'000'000'000);
  if (!std::isfinite(c.uncertainty_ppm) || c.uncertainty_ppm < 0) throw std::runtime_error("/clock/uncertainty_ppm is not a number of ppm");
  if (!(c.ns_per_tick > 50 && c.ns_per_tick < 75)) throw std::runtime_error("/clock/ns_per_tick is not near 62.5");
  return c;
}

/// The value of an enumeration, 0 to `last`, that name() calls `word`.
template <class Kind>
Kind named(const std::string& word, Kind last, const char* where) {
  for (int i = 0; i <= static_cast<int>(last); ++i)
    if (word == name(static_cast<Kind>(i))) return static_cast<Kind>(i);
  throw std::runtime_error(std::string(where) + " \"" + word + "\" is none that we know");
}

json optional_to_json(const std::optional<double>& value) { return value ? json(*value) : json(nullptr); }
std::optional<double> optional_from_json(const json& j) { return j.is_null() ? std::nullopt : std::optional(j.get<double>()); }

json facts_to_json(const clock::ClockFacts& f) {
  return {{"state", clock::name(f.state)},
          {"hard_low_ppm", f.hard_low_ppm},
          {"hard_high_ppm", f.hard_high_ppm},
          {"cross_check_ppm", optional_to_json(f.cross_check_ppm)},
          {"contradictions", f.contradictions},
          {"host",
           {{"virtual", f.host.is_virtual},
            {"synchronised", clock::name(f.host.synchronised)},
            {"disciplined_ppm", optional_to_json(f.host.disciplined_ppm)}}}};
}

clock::ClockFacts facts_from_json(const json& j) {
  clock::ClockFacts f;
  f.state = named(j.at("state").get<std::string>(), clock::ClockState::lost, "/clock_facts/state");
  f.hard_low_ppm = j.at("hard_low_ppm").get<double>();
  f.hard_high_ppm = j.at("hard_high_ppm").get<double>();
  f.cross_check_ppm = optional_from_json(j.at("cross_check_ppm"));
  f.contradictions = integer<int>(j.at("contradictions"), 0, 1'000'000'000);
  const json& host = j.at("host");
  f.host = {host.at("virtual").get<bool>(),
            named(host.at("synchronised").get<std::string>(), clock::Synchronised::unknown, "/clock_facts/host/synchronised"),
            optional_from_json(host.at("disciplined_ppm"))};
  return f;
}

json identity_to_json(const capture::Identity& id) {
  return {{"board", id.board},
          {"boot_id", id.boot_id},
          {"firmware", id.firmware},
          {"schema_hash", id.schema_hash},
          {"controller", id.controller},
          {"controller_image", id.controller_image},
          {"bench_address", id.bench_address}};
}

capture::Identity identity_from_json(const json& j) {
  return {j.at("board").get<std::string>(),        integer<std::uint32_t>(j.at("boot_id"), 0, 4'294'967'295),
          j.at("firmware").get<std::string>(),     j.at("schema_hash").get<std::string>(),
          j.at("controller").get<std::string>(),   j.at("controller_image").get<std::string>(),
          j.at("bench_address").get<std::string>()};
}

}  // namespace

std::string capture_to_json(const Capture& c) {
  json out = {{"format", "midstick capture " + std::to_string(kVersion)},
              {"identity", identity_to_json(c.identity)},
              {"clock", clock_to_json(c.clock)},
              {"clock_facts", c.clock_facts ? facts_to_json(*c.clock_facts) : json(nullptr)},
              {"begin", c.begin.count},
              {"end", c.end.count},
              {"complete", c.complete},
              {"incomplete_reason", c.incomplete_reason},
              {"segments", segments_to_json(c.segments)},
              {"events", events_to_json(c.events)},
              {"stimulus", edges_to_json(c.stimulus)},
              {"response", edges_to_json(c.response)}};
  if (c.calibration) out["calibration"] = calibration_value(*c.calibration);
  if (!c.calibration_note.empty()) out["calibration_note"] = c.calibration_note;
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
  if (const auto facts = j.find("clock_facts"); facts != j.end() && !facts->is_null()) c.clock_facts = facts_from_json(*facts);
  c.begin = {ticks(j.at("begin"))};
  c.end = {ticks(j.at("end"))};
  c.complete = j.at("complete").get<bool>();
  c.incomplete_reason = j.at("incomplete_reason").get<std::string>();
  c.segments = segments_from_json(j.at("segments"));
  c.events = events_from_json(j.at("events"));
  c.stimulus = edges_from_json(j.at("stimulus"));
  c.response = edges_from_json(j.at("response"));
  if (j.contains("calibration")) c.calibration = calibration_of(j["calibration"], "/calibration");
  c.calibration_note = j.value("calibration_note", "");
  return c;
} catch (const std::exception& e) {  // nlohmann's errors and ours carry the place
  return Error{ErrorKind::bad_file, where + ": is not a midstick capture: " + e.what()};
}

}  // namespace midstick::store
