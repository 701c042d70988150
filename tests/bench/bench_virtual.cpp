// The virtual bench's multiple of real time: seconds of bench time emulated per second of one core.
//
// board: the firmware alone, started by nobody. toggler: a controller that spins without ever sleeping. controller: the correct drive
// controller, powered, from build/images. response_load: 8 lines x 400 Hz into the board's captures. Figures are the counter "times_real".
#include <benchmark/benchmark.h>

#include <cstdlib>
#include <string>
#include <vector>

#include "fixtures/virtual/bench.hpp"

namespace {

using namespace midstick;
using namespace midstick::virtual_bench;

const std::string kImages = MIDSTICK_IMAGES "/";

VirtualBenchOptions options_for(const char* board, const char* controller) {
  VirtualBenchOptions options;
  options.board_image = board;
  if (!*controller) return options;
  script::ControllerDescription description;
  description.name = "benchmark";
  description.image = controller;
  description.chip = "atmega328p";
  description.inputs = {{"throttle", "S1", 0, 'D', 2}, {"steering", "S2", 1, 'D', 3}};
  description.outputs = {{"left", "R1", 0, 'B', 1}, {"right", "R2", 1, 'B', 2}};
  options.controller = description;
  return options;
}

/// Run `span` of bench time an iteration.
void run(benchmark::State& state, const VirtualBenchOptions& options, bool load = false) {
  auto made = VirtualBench::make(options);
  if (!made) {
    state.SkipWithError(made.error().message.c_str());
    return;
  }
  VirtualBench& bench = **made;
  const HostSpan span = host_ms(1000);
  std::uint8_t sink[4096];
  for (auto _ : state) {
    if (load)
      for (std::uint8_t line = 0; line < 8; ++line) {
        std::vector<InjectedEdge> edges;
        for (std::int64_t k = 0; k < 800; ++k)
          edges.push_back({bench.now().count * 1000 + 1'000'000 + k * 1'250'000'000 + line * 137'000'000, line, k % 2 == 0});
        if (!bench.inject(edges)) state.SkipWithError("edges refused");
      }
    const HostTime until = bench.now() + span;
    while (bench.now() < until)
      if (auto count = bench.read(sink, until); !count) break;
    bench.take_truth();
  }
  state.counters["times_real"] =
      benchmark::Counter(static_cast<double>(span.count) / 1e9 * static_cast<double>(state.iterations()), benchmark::Counter::kIsRate);
}

void board_alone(benchmark::State& state) { run(state, options_for((kImages + "board.elf").c_str(), "")); }
void spinning_controller(benchmark::State& state) { run(state, options_for(TEST_IMAGES "/board_pulse.elf", TEST_IMAGES "/toggler.elf")); }
void drive_controller(benchmark::State& state) {
  run(state, options_for(TEST_IMAGES "/board_pulse.elf", (kImages + "drive-correct.elf").c_str()));
}
void response_load(benchmark::State& state) { run(state, options_for(TEST_IMAGES "/board_pulse.elf", ""), true); }

BENCHMARK(board_alone)->Unit(benchmark::kMillisecond);
BENCHMARK(spinning_controller)->Unit(benchmark::kMillisecond);
BENCHMARK(drive_controller)->Unit(benchmark::kMillisecond);
BENCHMARK(response_load)->Unit(benchmark::kMillisecond);

}  // namespace

BENCHMARK_MAIN();
