#include <CLI/CLI.hpp>
#include <cstdio>
#include <string>

#include "daemon/cli/commands.hpp"
#include "daemon/cli/help.hpp"

namespace midstick::cli {
namespace {

/// CLI11 says only that a command is required, not that it does not know the one that was given.
bool knows_command(const CLI::App& program, int argc, char** argv) {
  if (argc < 2 || *argv[1] == '-' || program.get_require_subcommand_min() == 0) return true;
  const std::string name = argv[1];
  return !program.get_subcommands([&](const CLI::App* command) { return command->check_name(name); }).empty();
}

}  // namespace

int report_error(const Error& error) {
  std::fprintf(stderr, "midstick: %s\n", error.message.c_str());
  return exit_code(error.kind);
}

int parse_and_run(CLI::App& program, Action& action, int argc, char** argv) {
  lay_out_help(program);
  if (!knows_command(program, argc, argv))
    return report_error({ErrorKind::usage, "there is no command \"" + std::string(argv[1]) + "\"; midstick --help lists those there are"});
  try {
    program.parse(argc, argv);
  } catch (const CLI::ParseError& e) {
    return program.exit(e) == 0 ? 0 : exit_code(ErrorKind::usage);
  }
  return action ? action() : exit_code(ErrorKind::usage);
}

}  // namespace midstick::cli
