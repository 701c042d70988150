// The virtual bench's multiple of real time: seconds of bench time emulated per second of one core.
//
// board_alone: the firmware, started by nobody. spinning_controller: one that never sleeps. drive_controller: the correct drive controller.
// response_load: 8 lines x 400 Hz into a board that reports two of them. The counter "times_real" is the figure. The last three use the
// small test images of tests/virtual, which need no host; all images must have been built.
// links: midstick_virtual
#include <benchmark/benchmark.h>

#include <filesystem>
#include <string>
#include <vector>

#include "fixtures/virtual/bench.hpp"

namespace {

using namespace midstick;
using namespace midstick::virtual_bench;

/// Images lie in <repository>/build/images whatever the build folder.
std::string image(const std::string& name) {
  const auto repository = std::filesystem::path(__FILE__).parent_path().parent_path().parent_path();
  return (repository / "build" / "images" / (name + ".elf")).string();
}

VirtualBenchOptions options_for(const std::string& board, const std::string& controller) {
  VirtualBenchOptions options;
  options.board_image = image(board);
  if (controller.empty()) return options;
  script::ControllerDescription description;
  description.name = "benchmark";
  description.image = image(controller);
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

void board_alone(benchmark::State& state) { run(state, options_for("board", "")); }
void spinning_controller(benchmark::State& state) { run(state, options_for("tests/board_pulse", "tests/toggler")); }
void drive_controller(benchmark::State& state) { run(state, options_for("tests/board_pulse", "drive-correct")); }
void response_load(benchmark::State& state) { run(state, options_for("tests/board_pulse", ""), true); }

BENCHMARK(board_alone)->Unit(benchmark::kMillisecond);
BENCHMARK(spinning_controller)->Unit(benchmark::kMillisecond);
BENCHMARK(drive_controller)->Unit(benchmark::kMillisecond);
BENCHMARK(response_load)->Unit(benchmark::kMillisecond);

}  // namespace
