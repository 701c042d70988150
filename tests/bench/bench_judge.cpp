// links: midstick_judge midstick_script
// Edges judged per second on one core: the nine default checks, each alone, and ten minutes of steady sticks.
//
// "edges" counts stimulus and response. The record comes from the judge's simulated controller, which is compiled in here.
#include <benchmark/benchmark.h>

#include "tests/judge/simulated_controller.cpp"
#include "tests/judge/world.cpp"

namespace midstick {
namespace {

void judge_record(benchmark::State& state, const script::Plan& plan) {
  const auto record = judge_test::run(plan);
  for (auto _ : state) {
    auto result = judge::judge_run(plan, record);
    if (result.verdict != judge::Verdict::pass) state.SkipWithError("the correct controller must pass");
    benchmark::DoNotOptimize(result);
  }
  const auto edges = static_cast<double>(record.stimulus.size() + record.response.size());
  state.counters["edges"] = edges;
  state.counters["edges/s"] = benchmark::Counter(edges, benchmark::Counter::kIsIterationInvariantRate);
  state.counters["times_real_time"] =
      benchmark::Counter(judge_test::length_ms(record) / 1e3, benchmark::Counter::kIsIterationInvariantRate);
}

std::vector<std::string> kinds() {
  std::vector<std::string> all;
  for (const auto& k : judge::check_kinds()) all.push_back(k.kind);
  return all;
}

void BM_NineChecks(benchmark::State& state) { judge_record(state, judge_test::plan_of(kinds())); }
BENCHMARK(BM_NineChecks)->Unit(benchmark::kMillisecond);

void BM_OneCheck(benchmark::State& state) {
  const std::string kind = kinds()[static_cast<std::size_t>(state.range(0))];
  state.SetLabel(kind);
  judge_record(state, judge_test::plan_of({kind}));
}
BENCHMARK(BM_OneCheck)->DenseRange(0, 8)->Unit(benchmark::kMillisecond);

void BM_TenMinutesOfSteadySticks(benchmark::State& state) {
  judge_record(state, judge_test::plan_with(R"([{"check": "output-frame", "for_ms": 300000}])"));
}
BENCHMARK(BM_TenMinutesOfSteadySticks)->Unit(benchmark::kMillisecond);

}  // namespace
}  // namespace midstick
