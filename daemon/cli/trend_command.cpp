// midstick trend RUNS... [--metric TEXT] [--baseline BUILD] [--nights N] [--out FILE.html] [--json]
#include <unistd.h>

#include <CLI/CLI.hpp>
#include <cstdio>
#include <filesystem>
#include <memory>
#include <string>
#include <vector>

#include "daemon/cli/commands.hpp"
#include "daemon/cli/terminal.hpp"
#include "daemon/store/files.hpp"
#include "daemon/trend/trend.hpp"
#include "daemon/trend/trend_html.hpp"
#include "daemon/trend/trend_json.hpp"
#include "daemon/trend/trend_table.hpp"
#include "daemon/trend/words.hpp"

namespace midstick::cli {
namespace {

struct Options {
  std::vector<std::filesystem::path> runs;
  trend::Request request;
  std::filesystem::path out;
  bool json{false};
};

int show(const Options& options) {
  const auto history = trend::read_history(options.runs);
  if (!history) return report_error(history.error());
  const auto trend = trend::analyse(history.value(), options.request);
  if (!trend) {
    for (const auto& l : history->left_out) std::fprintf(stderr, "left out: %s: %s\n", l.folder.c_str(), l.why.c_str());
    return report_error(trend.error());
  }
  if (!options.out.empty())
    if (const auto s = store::replace_file(options.out, trend::trend_html(trend.value())); !s) return report_error(s.error());
  std::fputs((options.json ? trend::trend_json(trend.value()) : trend::trend_table(trend.value(), style_of(STDOUT_FILENO))).c_str(),
             stdout);
  if (!options.json && !options.out.empty()) std::printf("page: %s\n", options.out.c_str());
  return trend::exit_code(trend.value());
}

}  // namespace

void add_trend(CLI::App& program, Action& action) {
  auto options = std::make_shared<Options>();
  auto* command =
      program.add_subcommand("trend",
                             "Look for drift over the nights of many runs, and compare builds. Needs no bench and powers nothing.\n"
                             "Exit code 0: nothing drifts or differs; 1: something does; 2: too few nights to tell.");
  command->add_option("RUNS", options->runs, "Folders with run folders in them or below them")->required();
  command->add_option("--metric", options->request.metric, "Only metrics whose \"check: measure\" holds this text");
  command->add_option("--baseline", options->request.against,
                      "Build to compare all other builds with (its label, see midstick run --build)");
  command->add_option("--nights", options->request.baseline, "Nights that only teach what is normal")
      ->check(CLI::Range(5, 1000))
      ->capture_default_str();
  command->add_option("--risk", options->request.caution.risk, "Chance of any false alarm within 300 nights")
      ->check(CLI::Range(1e-6, 0.5))
      ->capture_default_str();
  command->add_option("--out", options->out, "Write the page (HTML) here");
  command->add_flag("--json", options->json, "Print JSON instead of the table");
  command->callback([options, &action] { action = [options] { return show(*options); }; });
}

}  // namespace midstick::cli
