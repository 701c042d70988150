// midstickd: runs a plan on a bench every night and keeps a run folder for each. One bench, one plan, one thread.
//
// Ctrl-C or SIGTERM stops pulses and power first, then the program.
#include <poll.h>
#include <spdlog/spdlog.h>

#include <CLI/CLI.hpp>
#include <ctime>
#include <filesystem>

#include "daemon/cli/bench_options.hpp"
#include "daemon/cli/commands.hpp"
#include "daemon/cli/nightly.hpp"
#include "daemon/cli/stop_signal.hpp"
#include "daemon/engine/run.hpp"

namespace midstick::cli {
namespace {

struct Options {
  engine::RunRequest request;
  std::string at{"02:30"};
  std::filesystem::path keep{"midstick-runs"};
  bool now{false};
};

std::string local_text(std::time_t t, const char* form) {
  std::tm parts{};
  ::localtime_r(&t, &parts);
  char text[40];
  std::strftime(text, sizeof text, form, &parts);
  return text;
}

/// True when `due` came, false when a signal asked to stop. Looks at the clock again every minute, since it may be set meanwhile.
bool wait_until(std::time_t due, const std::atomic<bool>& stop) {
  while (!stop) {
    const std::time_t now = std::time(nullptr);
    if (now >= due) return true;
    ::poll(nullptr, 0, static_cast<int>(std::min<std::time_t>(due - now, 60)) * 1000);  // a signal ends it early
  }
  return false;
}

int run_once(Options& options, const std::atomic<bool>& stop) {
  options.request.out = options.keep / local_text(std::time(nullptr), "%Y-%m-%d-%H%M%S");
  spdlog::info("run {} begins: plan {}, bench {}", options.request.out.filename().string(), options.request.plan.string(),
               options.request.bench);
  const auto outcome = engine::run(options.request, stop);
  if (!outcome) {
    spdlog::error("run {}: {}", options.request.out.filename().string(), outcome.error().message);
    return exit_code(outcome.error().kind);
  }
  for (const auto& check : outcome->result.checks)
    if (check.verdict != judge::Verdict::pass)
      spdlog::warn("run {}: {} {}: {}", options.request.out.filename().string(), check.name, judge::name(check.verdict), check.summary);
  if (outcome->cut_short) spdlog::error("run {}: {}", options.request.out.filename().string(), outcome->cut_short->message);
  spdlog::info("run {} ends: {}; report {}", options.request.out.filename().string(), judge::name(outcome->result.verdict),
               (outcome->folder / "report.html").string());
  return engine::exit_code(outcome.value());
}

int serve(Options options) {
  const auto at = parse_time_of_day(options.at);
  if (!at) return report_error({ErrorKind::usage, "--at \"" + options.at + "\" is not a time; expected HH:MM, 00:00 to 23:59"});
  const auto& stop = stop_on_signal();
  options.request.on_notice = [](const std::string& line) { spdlog::warn("{}", line); };
  if (options.now) return run_once(options, stop);
  int last = 0;
  for (;;) {
    const std::time_t due = next_night(std::time(nullptr), *at);
    spdlog::info("next run at {}", local_text(due, "%Y-%m-%d %H:%M %Z"));
    if (!wait_until(due, stop)) break;
    last = run_once(options, stop);
  }
  spdlog::info("stopped");
  return last == exit_code(ErrorKind::stopped) ? 0 : last;
}

}  // namespace
}  // namespace midstick::cli

int main(int argc, char** argv) {
  using namespace midstick::cli;
  CLI::App program{
      "Runs a plan on a bench every night and keeps a run folder for each.\n"
      "CAUTION: powers the controller unattended. Only with motors disconnected, on a fused supply. See README.md."};
  program.set_version_flag("--version", MIDSTICK_VERSION);
  Options options;
  program.add_option("PLAN", options.request.plan, "Plan file (JSON)")->required();
  program.add_option("--bench", options.request.bench, "serial:/dev/ttyACM0 or virtual:CONTROLLER.json")->required();
  program.add_option("--build", options.request.build, "Label of the controller's build, for midstick trend");
  program.add_option("--at", options.at, "Local time of the nightly run, HH:MM")->capture_default_str();
  program.add_option("--keep", options.keep, "Folder for the run folders")->capture_default_str();
  program.add_flag("--now", options.now, "Run once now and exit with the run's code");
  add_virtual_options(program, options.request.conditions);
  Action action;
  program.callback([&] { action = [&options] { return serve(options); }; });
  return parse_and_run(program, action, argc, argv);
}
