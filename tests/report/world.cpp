#include "tests/report/world.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <random>

#include "daemon/judge/decision.hpp"

namespace midstick::report::test {
namespace {

using judge::CheckResult;
using judge::Measure;
using judge::Picture;
using judge::Series;
using judge::Verdict;

constexpr std::int64_t kMs = 16'013;  // ticks of a true ms on this board: 812 ppm fast
constexpr std::int64_t kBegin = 1'600'000;

BoardTime at_ms(double ms) { return {kBegin + static_cast<std::int64_t>(ms * kMs)}; }

script::Plan plan() {
  script::Plan p;
  p.name = "bank mower, nightly";
  p.path = "mower/nightly.json";
  p.seed = 7;
  p.controller.name = "track drive";
  p.controller.inputs = {{"throttle", "S1", 0, 'D', 2}, {"steering", "S2", 1, 'D', 3}};
  p.controller.outputs = {{"left", "R1", 0, 'B', 1}, {"right", "P1", 2, 'B', 2}};
  for (const char* kind : {"neutral", "static-mix", "output-frame", "signal-loss", "recovery"}) p.checks.push_back({kind, kind, {}, 1, {}});
  p.checks.back().name = "recovery after loss of both";
  return p;
}

capture::Capture capture_of(int seconds) {
  capture::Capture c;
  c.identity = {"midstick board 1.0, boot 7", 7, "1.0", "5e1f00aa", "track drive", "a1b2c3d4e5f60718", "virtual:mower/controller.json"};
  c.clock = {7, {kBegin}, {0}, 62.5 / (1 + 812e-6), 0.42, 240};
  c.clock_facts = {clock::ClockState::locked, 811.2, 812.9, 0.08, 0, {true, clock::Synchronised::unknown, {}}};
  c.begin = {kBegin};
  c.end = at_ms(seconds * 1000.0);
  c.complete = true;
  std::mt19937 random(7);
  const auto jitter = [&] { return static_cast<std::int64_t>(random() % 9) - 4; };
  for (int frame = 0; frame * 20 + 10 < seconds * 1000; ++frame) {
    const auto t = kBegin + frame * 20 * kMs;
    const bool lost = frame > 300 && frame < 360;
    const auto stick = static_cast<std::int64_t>(400.0 * std::sin(frame / 40.0) * 16);
    if (!lost) add_pulses(c.stimulus, 0, t, kMs, 1500 * 16 + stick, 1);
    if (!lost) add_pulses(c.stimulus, 1, t + 2 * kMs + 3000, kMs, 1500 * 16, 1);
    add_pulses(c.response, 0, t + 9 * kMs + jitter(), kMs, 1500 * 16 + (lost ? 3200 : stick) + jitter(), 1);
    add_pulses(c.response, 2, t + 12 * kMs + jitter(), kMs, 1500 * 16 + (lost ? 3200 : stick) + jitter(), 1);
  }
  add_pulses(c.response, 0, kBegin + 4 * kMs, kMs, 40, 1);  // a runt of 2.5 us
  sort_edges(c.stimulus);
  sort_edges(c.response);
  c.events = {{at_ms(1), capture::EventKind::power_on, 0, at_ms(1), "power on at the plan's request"},
              {at_ms(100), capture::EventKind::supply, 7412, at_ms(100), ""},
              {at_ms(200), capture::EventKind::supply, 7398, at_ms(200), ""},
              {at_ms(9020), capture::EventKind::edges_lost, 2, at_ms(9000), "2 board frames missing between 9.000 and 9.020 s"},
              {at_ms(seconds * 1000.0 - 5), capture::EventKind::power_off, 0, at_ms(seconds * 1000.0 - 5), ""}};
  for (int i = 0; i < 5; ++i) c.segments.push_back({i, 0, at_ms(i * seconds * 200.0), at_ms((i + 1) * seconds * 200.0), {}});
  return c;
}

CheckResult neutral() {
  CheckResult c{
      "neutral", "neutral", Verdict::pass, "With both sticks released both outputs rest at neutral, well within 5 µs.", 0, {}, {}, {},
      {},        {}};
  c.measures = {{"neutral left", 1500.62, 1495, 1505, 0.25, "us", 118, Verdict::pass, "", false, ""},
                {"neutral right", 1499.871, 1495, 1505, 0.61, "us", 118, Verdict::pass, "pin-change line: bound 0.5 µs a edge", false, ""}};
  c.evidence = {{at_ms(200), at_ms(2300), "sticks released", false, {0, 1}, {0, 2}}};
  Picture p{"Output widths, sticks released", "time in the check, s", "width, µs", {}, {}, {}};
  Series left{Series::Style::line, Series::Role::measured, "left", {}, {}};
  Series right{Series::Style::line, Series::Role::measured, "right", {}, {}};
  std::mt19937 random(3);
  for (int i = 0; i < 118; ++i) {
    left.x.push_back(i * 0.02);
    right.x.push_back(i * 0.02);
    left.y.push_back(1500.5 + static_cast<double>(random() % 100) / 200);
    right.y.push_back(1499.6 + static_cast<double>(random() % 100) / 200);
  }
  p.series = {{Series::Style::line, Series::Role::expected, "neutral asked for", {0, 2.36}, {1500, 1500}},
              {Series::Style::line, Series::Role::limit, "limit", {0, 2.36}, {1505, 1505}},
              {Series::Style::line, Series::Role::limit, "limit", {0, 2.36}, {1495, 1495}},
              left,
              right};
  c.pictures = {p};
  return c;
}

CheckResult static_mix() {
  CheckResult c{
      "static-mix",
      "static-mix",
      Verdict::fail,
      "At full throttle and full right stick the right output is 250 µs too high: steering is lost where the spec asks for proportional.",
      1,
      {},
      {},
      {},
      {},
      {}};
  c.measures = {{"largest error left", 1.94, std::nullopt, 8, 0.3, "us", 169, Verdict::pass, "", false, ""},
                {"largest error right", 250.31, std::nullopt, 8, 0.3, "us", 169, Verdict::fail,
                 "consistent with clipping instead of proportional saturation", false, ""}};
  c.causes = {{"plain-clip", 0.9, "explains all 169 readings within 8 us"}, {"limit-off", 0.3, "one side reaches 250 us further"}};
  c.evidence = {{at_ms(4100), at_ms(4160), "throttle 100 %, steering 100 %", true, {0, 1}, {0, 2}},
                {at_ms(2500), at_ms(2560), "throttle 0 %, steering 0 %", false, {0, 1}, {0, 2}}};
  Picture p{"Right output over the stick grid", "throttle, %", "width, µs", {}, {{75, 100, "steering lost", true}}, {}};
  Series want{Series::Style::dots, Series::Role::expected, "asked for", {}, {}};
  Series got{Series::Style::dots, Series::Role::measured, "measured, right", {}, {}};
  Series got_left{Series::Style::dots, Series::Role::measured, "measured, left", {}, {}};
  for (int t = -100; t <= 100; t += 25)
    for (int s = -100; s <= 100; s += 50) {
      const double m = std::max(1.0, (std::abs(t) + std::abs(s)) / 100.0);
      const double y = 1500 + 5.0 * (t - s) / m;
      want.x.push_back(t);
      want.y.push_back(y);
      got.x.push_back(t);
      got.y.push_back(t > 50 && s > 50 ? y + 250 : y + 1);
      got_left.x.push_back(t);
      got_left.y.push_back(1500 + 5.0 * (t + s) / m);
    }
  p.series = {want, got, got_left};
  c.pictures = {p};
  return c;
}

CheckResult output_frame() {
  CheckResult c{"output-frame",
                "output-frame",
                Verdict::pass,
                "Output frames come every 20 ms and never outside 14 to 25 ms.",
                0,
                {},
                {},
                {},
                {},
                {}};
  c.measures = {{"longest period left", 20.0312, 14, 25, 0.0002, "ms", 5000, Verdict::pass,
                 "0 of 5000 frames outside: rate below 0.06 % (95 %)", false, ""}};
  c.evidence = {{at_ms(4900), at_ms(7000), "all frames of the check", false, {}, {0, 2}}};
  Picture p{"Period of the left output", "frame", "period, ms", {}, {}, {}};
  Series got{Series::Style::line, Series::Role::measured, "left", {}, {}};
  std::mt19937 random(5);
  for (int i = 0; i < 5000; ++i) {
    got.x.push_back(i);
    got.y.push_back(i == 3210 ? 20.0312 : 20.0 + static_cast<double>(random() % 1000) * 4e-6);
  }
  got.y[1000] = got.y[1001] = std::numeric_limits<double>::quiet_NaN();
  p.series = {got};
  c.pictures = {p};
  return c;
}

CheckResult signal_loss() {
  CheckResult c{
      "signal-loss",
      "signal-loss",
      Verdict::fail,
      "After all channels fell silent both outputs held their last value for as long as was watched; they must be safe within 500 ms.",
      0,
      {},
      {},
      {},
      {},
      {}};
  c.measures = {{"time to safe, all channels lost", 1180, std::nullopt, 500, 0.01, "ms", 1, Verdict::fail,
                 "still not safe at the end of the check", false, ""},
                {"time to safe, throttle lost", 212.4, std::nullopt, 500, 20, "ms", 5, Verdict::pass, "", false, ""}};
  judge::never_came(c.measures[0], "never safe");
  c.evidence = {{at_ms(6520), at_ms(7200), "outputs not safe", true, {0, 1}, {0, 2}}};
  Picture p{"Outputs around the loss",
            "time after the last valid pulse, ms",
            "width, µs",
            {},
            {{500, 1180, "not safe", true}, {-200, 0, "signal", false}},
            {}};
  p.series = {{Series::Style::steps, Series::Role::input, "throttle", {-200, -100, 0}, {1700, 1700, 1700}},
              {Series::Style::steps, Series::Role::measured, "left", {-200, 0, 600, 1180}, {1700, 1700, 1700, 1700}},
              {Series::Style::steps, Series::Role::measured, "right", {-200, 0, 600, 1180}, {1690, 1690, 1695, 1690}},
              {Series::Style::line, Series::Role::limit, "safe, at most", {500, 1180}, {1505, 1505}},
              {Series::Style::line, Series::Role::limit, "safe, at least", {500, 1180}, {1495, 1495}}};
  c.pictures = {p};
  return c;
}

CheckResult recovery() {
  return {"recovery after loss of both",
          "recovery",
          Verdict::inconclusive,
          "The bench lost 2 frames of edges during this check, so it says nothing.",
          -1,
          {},
          {},
          {},
          {},
          {}};
}

}  // namespace

World mower_world(int seconds) {
  World w{plan(), capture_of(seconds), {}, {"2026-03-01T21:00:00Z", "2026-03-01T21:04:00Z", "workshop", "runs/2026-03-01-2100"}};
  w.result = {Verdict::fail, "2 of 5 checks failed: static-mix, signal-loss. 1 is inconclusive.", {}};
  w.result.checks = {neutral(), static_mix(), output_frame(), signal_loss(), recovery()};
  for (auto& check : w.result.checks) check.board_ms = seconds * 200.0;
  return w;
}

World world_with_a_check_left_out() {
  World w = mower_world();
  auto& last = w.result.checks.back();
  last.not_run = "nobody is there to open a wire.";
  last.summary = "Not run: " + last.not_run;
  return w;
}

World empty_world() {
  World w;
  w.plan.name = "empty";
  w.capture.incomplete_reason = "the bench fell silent before the first pulse";
  w.result = {Verdict::inconclusive, "Nothing was captured.", {}};
  return w;
}

void add_pulses(std::vector<capture::Edge>& edges, std::uint8_t line, std::int64_t first, std::int64_t period, std::int64_t width,
                int count) {
  for (int i = 0; i < count; ++i) {
    edges.push_back({{first + i * period}, line, true, 1, false});
    edges.push_back({{first + i * period + width}, line, false, 1, false});
  }
}

void sort_edges(std::vector<capture::Edge>& edges) {
  std::stable_sort(edges.begin(), edges.end(), [](const auto& a, const auto& b) { return a.at < b.at; });
}

}  // namespace midstick::report::test
