// midstick sweep --bench ADDRESS --out DIR [--controller FILE] [--receiver]
#include <unistd.h>

#include <CLI/CLI.hpp>
#include <cstdio>
#include <memory>

#include "daemon/cli/bench_options.hpp"
#include "daemon/cli/commands.hpp"
#include "daemon/cli/stop_signal.hpp"
#include "daemon/cli/terminal.hpp"
#include "daemon/report/progress.hpp"
#include "daemon/sweep/sweep.hpp"

namespace midstick::cli {
namespace {

struct Options {
  sweep::Request request;
  bool receiver{false};
};

void print(const char* what, const std::optional<sweep::Value>& v) {
  if (v) std::printf("  %s %.2f +- %.2f us", what, v->value, v->u);
}

void print(const sweep::Swept& swept) {
  for (const auto& c : swept.map.curves) {
    std::printf("%s by %s:", c.output.c_str(), c.input.c_str());
    if (!c.answers) {
      std::printf("  does not answer\n");
      continue;
    }
    print("neutral", c.neutral), print("dead band from", c.low.edge), print("to", c.high.edge);
    if (c.low.fit.gain && c.high.fit.gain) std::printf("  gain %.4f and %.4f", c.low.fit.gain->value, c.high.fit.gain->value);
    std::printf("\n");
  }
  std::printf("%.0f s of board time\n%s\n", swept.map.board_s, swept.mixer.c_str());
}

void print(const sweep::ReceiverMap& map) {
  for (const auto& c : map.channels) {
    std::printf("%s:", c.name.c_str());
    print("low", c.low), print("centre", c.centre), print("high", c.high), print("trim", c.trim);
    std::printf("\n");
  }
}

int run(Options options) {
  StatusLine status;
  options.request.on_progress = [&status](const sweep::Progress& p) {
    status.show(report::progress_line({p.probing ? "probe" : "sweep", p.probing ? 1 : 2, 2, p.done_ms, p.total_ms}, status.style()));
  };
  options.request.on_notice = [&status](const std::string& line) {
    status.clear();
    std::fprintf(stderr, "%s\n", line.c_str());
  };
  const auto done = [&](const auto& outcome) {
    status.clear();
    if (!outcome) return report_error(outcome.error());
    print(outcome.value());
    std::printf("map: %s\n", (options.request.out / "map.html").c_str());
    return 0;
  };
  return options.receiver ? done(sweep::sweep_receiver(options.request, stop_on_signal()))
                          : done(sweep::sweep(options.request, stop_on_signal()));
}

}  // namespace

void add_sweep(CLI::App& program, Action& action) {
  auto options = std::make_shared<Options>();
  auto& r = options->request;
  auto* command = program.add_subcommand(
      "sweep",
      "Sweep every stick over its travel and write the controller's map, and a mixer spec from it.\n"
      "CAUTION: powers the controller and drives it to full stick. Disconnect the motors, or lift both tracks off the "
      "ground, first. With --receiver it powers nothing and tells a person at the transmitter what to do.");
  command->add_option("--bench", r.bench, "serial:/dev/ttyACM0 or virtual:CONTROLLER.json")->required();
  command->add_option("--out", r.out, "Folder to make")->required();
  command->add_option("--controller", r.controller, "Controller description; a virtual bench knows its own");
  command->add_flag("--receiver", options->receiver, "Map a receiver, wired to the capture lines, instead of a controller");
  command->add_option("--for", r.seconds, "Receiver only: seconds for all steps together")
      ->check(CLI::Range(20.0, 600.0))
      ->capture_default_str();
  command->add_option("--low-us", r.settings.low_us, "Shortest stick pulse")->check(CLI::Range(700.0, 1400.0))->capture_default_str();
  command->add_option("--high-us", r.settings.high_us, "Longest stick pulse")->check(CLI::Range(1600.0, 2300.0))->capture_default_str();
  command->add_option("--step-us", r.settings.step_us, "Step of the slow sweep")->check(CLI::Range(2.0, 50.0))->capture_default_str();
  command->add_option("--grid", r.settings.grid, "Positions a side of the grid")->check(CLI::Range(3, 33))->capture_default_str();
  command->add_option("--frame-us", r.settings.frame_us, "Receiver frame")->check(CLI::Range(8000.0, 50000.0))->capture_default_str();
  command
      ->add_option("--arm-ms", r.settings.arm_ms,
                   "Neutral held until the outputs should follow; twice and four times that are tried as well")
      ->check(CLI::Range(100.0, 15000.0))
      ->capture_default_str();
  command->add_option("--seed", r.seed, "Of the receiver frames' dither")->check(CLI::Range(std::int64_t{0}, std::int64_t{4294967295}));
  add_virtual_options(*command, r.conditions);
  command->callback([options, &action] { action = [options] { return run(*options); }; });
}

}  // namespace midstick::cli
