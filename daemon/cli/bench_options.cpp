#include "daemon/cli/bench_options.hpp"

#include <CLI/CLI.hpp>

namespace midstick::cli {

void add_virtual_options(CLI::App& command, engine::VirtualConditions& conditions) {
  const std::string group = "Virtual bench only";
  command.add_option("--board-ppm", conditions.board_ppm, "Clock error of the bench board, ppm")
      ->check(CLI::Range(-10000.0, 10000.0))
      ->group(group);
  command.add_option("--controller-ppm", conditions.controller_ppm, "Clock error of the controller, ppm")
      ->check(CLI::Range(-20000.0, 20000.0))
      ->group(group);
  command.add_option("--phase-us", conditions.controller_phase_us, "Controller's start after power-on, us")
      ->check(CLI::Range(0.0, 1e6))
      ->group(group);
  command.add_option("--chaos-seed", conditions.seed, "Seed of memory contents at power-on")->group(group);
}

}  // namespace midstick::cli
