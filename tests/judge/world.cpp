#include "tests/judge/world.hpp"

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>
#include <stdexcept>

#include "daemon/script/draw.hpp"
#include "daemon/script/load.hpp"

namespace midstick::judge_test {
namespace {

using nlohmann::json;

constexpr std::int64_t kLeadNs = 1'500'000'000;  // the engine powers up and waits for the boot
constexpr std::int64_t kGapNs = 100'000'000;     // between two checks nothing is sent
constexpr std::int64_t kResetNs = 20'000'000;
constexpr std::int64_t kFirstTick = 40'000'000;

json mixer_json() {
  return json::parse(R"({"format": "midstick mixer 1", "name": "tracked machine",
    "throttle": {"input": "throttle", "dead_band": {"kind": "continuous", "half_width_us": 20}},
    "steering": {"input": "steering", "dead_band": {"kind": "continuous", "half_width_us": 20}},
    "mix": {"law": "proportional"}, "left": {"output": "left"}, "right": {"output": "right"},
    "arm": {"neutral_half_width_us": 25}})");
}

json controller_json(const Bench& bench) {
  json j = json::parse(R"({"format": "midstick controller 1", "name": "simulated", "inputs": [{"name": "throttle", "line": "S1"},
    {"name": "steering", "line": "S2"}], "outputs": [{"name": "left", "line": "R1"}, {"name": "right", "line": "R2"}]})");
  if (bench.pin_change) j["outputs"][0]["line"] = "P3", j["outputs"][1]["line"] = "P1";
  return j;
}

/// Board ticks of true time in this run, as the hardware counts them.
struct BoardClockModel {
  double true_ns_per_tick;
  BoardTime at(std::int64_t ns) const { return {kFirstTick + std::llround(static_cast<double>(ns) / true_ns_per_tick)}; }
};

void add_stimulus(capture::Capture& c, const script::Timeline& all, const BoardClockModel& clock) {
  for (const auto& e : all.edges) c.stimulus.push_back({clock.at(e.at.count), e.line, e.level, 1, false});
}

void add_response(capture::Capture& c, const std::vector<OutputEdge>& edges, const BoardClockModel& clock, const Bench& bench) {
  script::Draw draw(11);
  for (const auto& e : edges) {
    capture::Edge edge{clock.at(e.at_ns), e.line, e.level, 1, false};
    if (bench.pin_change) {
      edge.crowded = draw.within(0, 99) < bench.crowded_percent;
      edge.half_width = edge.crowded ? 60 : 8;
      edge.at = edge.at + BoardSpan{draw.within(-edge.half_width, edge.half_width)};
    }
    c.response.push_back(edge);
  }
  std::stable_sort(c.response.begin(), c.response.end(), [](const auto& a, const auto& b) { return a.at < b.at; });
}

void add_events(capture::Capture& c, const script::Timeline& all, const BoardClockModel& clock) {
  c.events.push_back({clock.at(0), capture::EventKind::power_on, 0, clock.at(0), "power on"});
  for (const auto& a : all.actions) {
    if (a.kind == script::ActionKind::reset) {
      const BoardTime at = clock.at(a.at.count), released = clock.at(a.at.count + kResetNs);
      c.events.push_back({at, capture::EventKind::reset_asserted, 0, at, ""});
      c.events.push_back({released, capture::EventKind::reset_released, 0, released, ""});
      continue;
    }
    if (a.kind == script::ActionKind::port_open || a.kind == script::ActionKind::port_close) continue;
    const auto kind = a.kind == script::ActionKind::power_on ? capture::EventKind::power_on : capture::EventKind::power_off;
    c.events.push_back({clock.at(a.at.count), kind, 0, clock.at(a.at.count), ""});
  }
}

}  // namespace

script::Plan plan_with(const std::string& checks_json, const Bench& bench) {
  json plan = {{"format", "midstick plan 1"}, {"name", "test"}, {"mixer", "m.json"},
               {"controller", "c.json"},      {"seed", 5},      {"checks", json::parse(checks_json)}};
  json document = {{"plan", plan}, {"mixer", mixer_json()}, {"controller", controller_json(bench)}, {"sticks", json::object()}};
  auto loaded = script::plan_from_document(document, "test");
  if (!loaded) throw std::runtime_error(loaded.error().message);
  return loaded.take();
}

script::Plan plan_of(const std::vector<std::string>& kinds, const Bench& bench) {
  json checks = json::array();
  for (const auto& k : kinds) checks.push_back({{"check", k}});
  return plan_with(checks.dump(), bench);
}

capture::Capture run(const script::Plan& plan, const Behaviour& controller, const Bench& bench) {
  const BoardClockModel clock{62.5 / (1 + bench.clock_ppm / 1e6)};
  capture::Capture c;
  c.clock.ns_per_tick = 62.5 / (1 + (bench.clock_ppm + bench.map_error_ppm) / 1e6);
  c.clock.uncertainty_ppm = bench.uncertainty_ppm;
  c.clock.samples = 100;
  script::Timeline all;
  all.length = {kLeadNs};
  for (int i = 0; i < static_cast<int>(plan.checks.size()); ++i) {
    const auto& planned = plan.checks[static_cast<std::size_t>(i)];
    const auto& kinds = judge::check_kinds();
    const auto kind = std::find_if(kinds.begin(), kinds.end(), [&](const auto& k) { return planned.kind == k.kind; });
    for (int repeat = 0; repeat < planned.repeats; ++repeat) {
      const auto seed = script::mixed(plan.seed, static_cast<std::uint64_t>(i * 1000 + repeat));
      auto sticks = kind->compose(plan, planned, seed);
      if (!sticks) throw std::runtime_error(sticks.error().message);
      if (sticks->moves.empty()) continue;
      auto timeline = script::compile(*sticks, plan.controller, seed);
      if (!timeline) throw std::runtime_error(timeline.error().message);
      capture::Segment segment{i, repeat, clock.at(all.length.count), clock.at(all.length.count + timeline->length.count), {}};
      for (const auto& m : timeline->marks) segment.marks.push_back({clock.at(all.length.count + m.at.count), m.label, m.values});
      c.segments.push_back(segment);
      script::append(all, *timeline);
      all.length.count += kGapNs;
    }
  }
  add_stimulus(c, all, clock);
  add_response(c, run_controller(all, plan.spec, plan.controller, controller), clock, bench);
  add_events(c, all, clock);
  c.begin = clock.at(0), c.end = clock.at(all.length.count);
  c.complete = true;
  return c;
}

std::string told(const judge::RunResult& result) {
  std::string text;
  for (const auto& c : result.checks) text += c.name + " " + judge::name(c.verdict) + ": " + c.summary + "\n";
  return text;
}

const judge::CheckResult& check(const judge::RunResult& result, const std::string& name) {
  for (const auto& c : result.checks)
    if (c.name == name) return c;
  throw std::runtime_error("no check " + name);
}

const judge::Measure* measure(const judge::CheckResult& result, const std::string& name) {
  for (const auto& m : result.measures)
    if (m.name == name) return &m;
  throw std::runtime_error("no measure " + name + " in " + result.name + ": " + result.summary);
}

std::string those(const judge::RunResult& result, judge::Verdict verdict) {
  std::string text;
  for (const auto& c : result.checks)
    if (c.verdict == verdict) text += (text.empty() ? "" : ", ") + c.name;
  return text;
}

double length_ms(const capture::Capture& capture) {
  double ms = 0;
  for (const auto& s : capture.segments) ms += capture.clock.us(s.end - s.begin) / 1e3;
  return ms;
}

Behaviour with(const std::function<void(Behaviour&)>& change) {
  Behaviour b;
  change(b);
  return b;
}

std::string first_cause(const judge::CheckResult& r) { return r.causes.empty() ? "" : r.causes.front().id; }

}  // namespace midstick::judge_test
