// links: midstick_report
// Time from a judged run to its report files, for 10 minutes of board time; by file and all together with the disk.
//
// Argument: output frames a second on each captured line. 50 is the usual servo rate on two lines; 400 on eight is the bench's full load.
#include <benchmark/benchmark.h>

#include <algorithm>
#include <cmath>
#include <filesystem>

#include "daemon/report/html.hpp"
#include "daemon/report/junit.hpp"
#include "daemon/report/report_json.hpp"
#include "daemon/report/vcd.hpp"
#include "daemon/report/write_reports.hpp"

namespace {

using namespace midstick;

constexpr std::int64_t kSecond = 16'000'000;
constexpr int kSeconds = 600;

struct Run {
  script::Plan plan;
  capture::Capture capture;
  judge::RunResult result;
  report::RunFacts facts{"2026-03-01T21:00:00Z", "2026-03-01T21:10:00Z", "workshop", "runs/1"};
  report::Source source() const { return {plan, capture, result, facts, "midstick"}; }
};

void add_pulses(std::vector<capture::Edge>& edges, std::uint8_t line, int rate) {
  for (std::int64_t i = 0; i < static_cast<std::int64_t>(rate) * kSeconds; ++i) {
    const std::int64_t rise = i * kSecond / rate + line * 1000;
    edges.push_back({{rise}, line, true, 1, false});
    edges.push_back({{rise + 24'000 + (i % 160)}, line, false, 1, false});
  }
}

judge::CheckResult check(int number) {
  judge::CheckResult c;
  c.name = "check-" + std::to_string(number);
  c.kind = "output-frame";
  c.verdict = judge::Verdict::pass;
  c.headline = 0;
  c.measures.assign(20, {"period", 20.0, 14, 25, 0.001, "ms", 30'000, judge::Verdict::pass, "0 of 30000"});
  for (int i = 0; i < 200; ++i) c.evidence.push_back({{i * kSecond}, {i * kSecond + kSecond / 10}, "stretch", false, {0, 1}, {0, 1}});
  judge::Picture p{"Period", "frame", "ms", {}, {}};
  judge::Series s{judge::Series::Style::line, judge::Series::Role::measured, "left", {}, {}};
  for (int i = 0; i < 30'000; ++i) {
    s.x.push_back(i);
    s.y.push_back(20 + std::sin(i) * 0.01);
  }
  p.series.assign(2, s);
  c.pictures.assign(2, p);
  return c;
}

const Run& run(int rate) {
  static Run made[2];
  Run& r = made[rate > 50];
  if (!r.result.checks.empty()) return r;
  r.plan.name = "ten minutes";
  for (std::uint8_t i = 0; i < 6; ++i) r.plan.controller.inputs.push_back({"in" + std::to_string(i), "S", i, 0, 0});
  const int responses = rate > 50 ? 8 : 2;
  for (std::uint8_t i = 0; i < responses; ++i) r.plan.controller.outputs.push_back({"out" + std::to_string(i), "R", i, 0, 0});
  for (std::uint8_t i = 0; i < 6; ++i) add_pulses(r.capture.stimulus, i, 50);
  for (std::uint8_t i = 0; i < responses; ++i) add_pulses(r.capture.response, i, rate);
  const auto earlier = [](const auto& a, const auto& b) { return a.at < b.at; };
  std::stable_sort(r.capture.stimulus.begin(), r.capture.stimulus.end(), earlier);
  std::stable_sort(r.capture.response.begin(), r.capture.response.end(), earlier);
  r.capture.end = {kSeconds * kSecond};
  r.capture.complete = true;
  for (int i = 0; i < 9; ++i) r.result.checks.push_back(check(i));
  return r;
}

void count_edges(benchmark::State& state, const Run& r) {
  const auto edges = r.capture.stimulus.size() + r.capture.response.size();
  state.counters["edges"] = static_cast<double>(edges);
  state.counters["edges/s"] = benchmark::Counter(static_cast<double>(edges), benchmark::Counter::kIsIterationInvariantRate);
}

void Json(benchmark::State& state) {
  const auto& r = run(static_cast<int>(state.range(0)));
  for (auto _ : state) benchmark::DoNotOptimize(report::report_json(r.source()));
}
void Junit(benchmark::State& state) {
  const auto& r = run(static_cast<int>(state.range(0)));
  for (auto _ : state) benchmark::DoNotOptimize(report::junit_xml(r.source()));
}
void Html(benchmark::State& state) {
  const auto& r = run(static_cast<int>(state.range(0)));
  for (auto _ : state) benchmark::DoNotOptimize(report::report_html(r.source()));
}
void Vcd(benchmark::State& state) {
  const auto& r = run(static_cast<int>(state.range(0)));
  for (auto _ : state) benchmark::DoNotOptimize(report::capture_vcd(r.capture, r.plan.controller, r.plan.name, r.facts.started));
  count_edges(state, r);
}
void AllFourOnDisk(benchmark::State& state) {
  const auto& r = run(static_cast<int>(state.range(0)));
  const auto folder = std::filesystem::temp_directory_path() / "midstick-bench-report";
  std::filesystem::create_directories(folder);
  for (auto _ : state)
    if (!report::write_reports(folder, r.source())) state.SkipWithError("could not write");
  count_edges(state, r);
  std::filesystem::remove_all(folder);
}

BENCHMARK(Json)->Arg(50)->Unit(benchmark::kMillisecond);
BENCHMARK(Junit)->Arg(50)->Unit(benchmark::kMillisecond);
BENCHMARK(Html)->Arg(50)->Arg(400)->Unit(benchmark::kMillisecond);
BENCHMARK(Vcd)->Arg(50)->Arg(400)->Unit(benchmark::kMillisecond);
BENCHMARK(AllFourOnDisk)->Arg(50)->Arg(400)->Unit(benchmark::kMillisecond)->UseRealTime();

}  // namespace
