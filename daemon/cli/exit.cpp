#include <CLI/CLI.hpp>
#include <cstdio>

#include "daemon/cli/commands.hpp"

namespace midstick::cli {

int report_error(const Error& error) {
  std::fprintf(stderr, "midstick: %s\n", error.message.c_str());
  return exit_code(error.kind);
}

int parse_and_run(CLI::App& program, Action& action, int argc, char** argv) {
  try {
    program.parse(argc, argv);
  } catch (const CLI::ParseError& e) {
    return program.exit(e) == 0 ? 0 : exit_code(ErrorKind::usage);
  }
  return action ? action() : exit_code(ErrorKind::usage);
}

}  // namespace midstick::cli
