// midstick random PLAN --bench ADDRESS [--mixer FILE] [--for SECONDS] [--seed N] [--runs N] --out DIR
#include <unistd.h>

#include <CLI/CLI.hpp>
#include <cstdio>
#include <memory>

#include "daemon/cli/bench_options.hpp"
#include "daemon/cli/commands.hpp"
#include "daemon/cli/stop_signal.hpp"
#include "daemon/cli/terminal.hpp"
#include "daemon/engine/random_run.hpp"
#include "daemon/report/progress.hpp"
#include "daemon/report/table.hpp"

namespace midstick::cli {
namespace {

struct Options {
  engine::RandomRequest request;
  std::uint64_t seed{0};
  double for_s{60};
};

std::string shrink_line(const engine::ShrinkProgress& p) {
  char text[120];
  std::snprintf(text, sizeof text, "shrinking: run %d of at most %d; %zu moves, %.1f s left", p.runs, p.most_runs, p.moves,
                p.length_ms / 1e3);
  return text;
}

void tell(const engine::RandomOutcome& outcome, const Options& options) {
  std::fputs(report::result_table(outcome.run.result, style_of(STDOUT_FILENO)).c_str(), stdout);
  if (outcome.shrunk) {
    const auto& s = *outcome.shrunk;
    std::printf("shrunk: %zu moves after arming, %d runs%s: %s\n", s.script.moves.size(), s.runs,
                s.ran_out ? ", then none was left; more (--shrink-runs) may make it shorter" : "",
                (outcome.folder / "shrunk.json").c_str());
    if (!s.reproduced) std::printf("It did not fail each time it was played again: the failure depends on more than the sticks.\n");
  } else {
    std::printf("random scripts played: %d, the last with seed %llu\n", outcome.played, static_cast<unsigned long long>(outcome.seed));
  }
  std::printf("report: %s\n", (outcome.run.folder / "report.html").c_str());
  std::printf("again:  midstick run %s --bench %s\n", outcome.plan_again.c_str(), options.request.run.bench.c_str());
}

int random_sticks(Options options, bool seed_given) {
  auto& run = options.request.run;
  if (seed_given) run.seed = options.seed;
  options.request.for_ms = options.for_s * 1e3;
  StatusLine status;
  run.on_progress = [&status, words = report::ProgressWords()](const engine::RunProgress& p) mutable {
    status.show(report::progress_line(words.told({p.check, p.number, p.of, p.done_ms, p.total_ms}), status.style()));
  };
  run.on_notice = [&status](const std::string& line) {
    status.clear();
    std::fprintf(stderr, "%s\n", line.c_str());
  };
  options.request.on_shrink = [&status](const engine::ShrinkProgress& p) { status.show(shrink_line(p)); };
  const auto outcome = engine::random_run(options.request, stop_on_signal());
  status.clear();
  if (!outcome) return report_error(outcome.error());
  tell(outcome.value(), options);
  if (outcome->run.cut_short) report_error(*outcome->run.cut_short);
  return outcome->shrunk ? 1 : engine::exit_code(outcome->run);
}

}  // namespace

void add_random(CLI::App& program, Action& action) {
  auto options = std::make_shared<Options>();
  auto* command = program.add_subcommand(
      "random",
      "Play random sticks with faults of the link mixed in, judge every pulse by the mixer spec, and shrink a script that fails to the\n"
      "shortest one that still does: DIR/shrunk.json, its plan and its report. Of PLAN, mixer spec, controller and frame count.\n"
      "CAUTION: powers the controller, again and again while shrinking, and drives it to full stick at random. Disconnect the motors, or\n"
      "lift both tracks off the ground, first.");
  command->add_option("PLAN", options->request.run.plan, "Plan file (JSON); its checks are not played")->required();
  command->add_option("--bench", options->request.run.bench, "serial:/dev/ttyACM0 or virtual:CONTROLLER.json")->required();
  command->add_option("--mixer", options->request.run.mixer, "Mixer spec to judge by instead of the plan's own");
  command->add_option("--out", options->request.run.out, "Folder to make for scripts, plans and run folders")->required();
  command->add_option("--for", options->for_s, "Length of a random script, s")->check(CLI::Range(1.0, 6000.0))->capture_default_str();
  auto* seed = command->add_option("--seed", options->seed, "Seed of the first script, one more for each after it; default: the plan's")
                   ->check(CLI::Range(std::int64_t{0}, std::int64_t{4294967295}));
  command->add_option("--runs", options->request.runs, "Random scripts to play, until one fails")
      ->check(CLI::Range(1, 100'000))
      ->capture_default_str();
  command->add_option("--shrink-runs", options->request.shrink_runs, "Runs that shrinking may take")
      ->check(CLI::Range(1, 10'000))
      ->capture_default_str();
  add_virtual_options(*command, options->request.run.conditions);
  command->callback([options, seed, &action] { action = [options, seed] { return random_sticks(*options, seed->count() > 0); }; });
}

}  // namespace midstick::cli
