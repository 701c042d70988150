// midstick run PLAN --bench ADDRESS [--mixer FILE] [--out DIR] [--seed N]
#include <unistd.h>

#include <CLI/CLI.hpp>
#include <cstdio>
#include <memory>

#include "daemon/cli/bench_options.hpp"
#include "daemon/cli/commands.hpp"
#include "daemon/cli/stop_signal.hpp"
#include "daemon/cli/terminal.hpp"
#include "daemon/engine/run.hpp"
#include "daemon/report/progress.hpp"
#include "daemon/report/table.hpp"

namespace midstick::cli {
namespace {

struct Options {
  engine::RunRequest request;
  std::uint64_t seed{0};
  bool json{false};
};

int run(Options options, bool seed_given) {
  if (seed_given) options.request.seed = options.seed;
  StatusLine status;
  options.request.on_progress = [&status, words = report::ProgressWords()](const engine::RunProgress& p) mutable {
    status.show(report::progress_line(words.told({p.check, p.number, p.of, p.done_ms, p.total_ms}), status.style()));
  };
  options.request.on_notice = [&status](const std::string& line) {
    status.clear();
    std::fprintf(stderr, "%s\n", line.c_str());
  };
  const auto outcome = engine::run(options.request, stop_on_signal());
  status.clear();
  if (!outcome) return report_error(outcome.error());
  if (options.json) {
    std::fputs(outcome->report_json.c_str(), stdout);
  } else {
    std::fputs(report::result_table(outcome->result, style_of(STDOUT_FILENO)).c_str(), stdout);
    std::printf("report: %s\n", (outcome->folder / "report.html").c_str());
  }
  if (outcome->cut_short) report_error(*outcome->cut_short);
  return engine::exit_code(outcome.value());
}

}  // namespace

void add_run(CLI::App& program, Action& action) {
  auto options = std::make_shared<Options>();
  auto* command =
      program.add_subcommand("run",
                             "Play a plan on a bench, judge the answers, write a run folder.\n"
                             "CAUTION: powers the controller. Disconnect the motors, or lift both tracks off the ground, first.");
  command->add_option("PLAN", options->request.plan, "Plan file (JSON)")->required();
  command->add_option("--bench", options->request.bench, "serial:/dev/ttyACM0 or virtual:CONTROLLER.json")->required();
  command->add_option("--mixer", options->request.mixer, "Mixer spec to judge by instead of the plan's own");
  command->add_option("--out", options->request.out, "Run folder to make; default: a new one below midstick-runs/");
  command->add_option("--build", options->request.build, "Label of the controller's build, for midstick trend");
  command->add_option("--only", options->request.only, "Play only this check of the plan; may be given several times");
  auto* seed = command->add_option("--seed", options->seed, "Replaces the plan's seed")
                   ->check(CLI::Range(std::int64_t{0}, std::int64_t{4294967295}));
  command->add_option("--calibration", options->request.calibration,
                      "Calibration of the board; default: midstick-calibrations/BOARD/calibration.json, if there");
  command->add_option("--board", options->request.board, "Name of the board, where its USB port has no serial number");
  command->add_flag("--hand", options->request.hand, "Somebody is there to do by hand, when told, what the plan asks a hand to do");
  command->add_flag("--json", options->json, "Print report.json instead of the table");
  add_virtual_options(*command, options->request.conditions);
  command->callback([options, seed, &action] { action = [options, seed] { return run(*options, seed->count() > 0); }; });
}

}  // namespace midstick::cli
