// midstick judge RUN [--spec SPEC] [--out DIR]
#include <unistd.h>

#include <CLI/CLI.hpp>
#include <cstdio>
#include <memory>

#include "daemon/cli/commands.hpp"
#include "daemon/cli/terminal.hpp"
#include "daemon/engine/rejudge.hpp"
#include "daemon/report/table.hpp"

namespace midstick::cli {
namespace {

struct Options {
  std::string run, spec, out;
  bool json{false};
};

int judge_again(const Options& options) {
  const auto again = engine::rejudge(options.run, options.spec, options.out);
  if (!again) return report_error(again.error());
  if (options.json)
    std::fputs(again->report_json.c_str(), stdout);
  else
    std::fputs(report::result_table(again->result, style_of(STDOUT_FILENO)).c_str(), stdout);
  const auto verdict = again->result.verdict;
  return verdict == judge::Verdict::pass ? 0 : verdict == judge::Verdict::fail ? 1 : 2;
}

}  // namespace

void add_judge(CLI::App& program, Action& action) {
  auto options = std::make_shared<Options>();
  auto* command = program.add_subcommand("judge", "Judge a stored run again. Needs no bench and powers nothing.");
  command->add_option("RUN", options->run, "Run folder")->required();
  command->add_option("--spec", options->spec, "Mixer spec to judge by instead of the run's own");
  command->add_option("--out", options->out, "Write the reports here too; the run folder itself is never changed");
  command->add_flag("--json", options->json, "Print report.json instead of the table");
  command->callback([options, &action] { action = [options] { return judge_again(*options); }; });
}

}  // namespace midstick::cli
