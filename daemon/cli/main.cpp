// midstick: the command line. Declares the commands and hands over; all work is in the engine.
#include <CLI/CLI.hpp>

#include "daemon/cli/commands.hpp"

int main(int argc, char** argv) {
  CLI::App program{
      "Test bench for radio-control drive controllers.\n"
      "CAUTION: disconnect the motors, or lift both tracks off the ground, before a controller is powered. See README.md.",
      "midstick"};
  program.require_subcommand(1);
  program.set_version_flag("--version", MIDSTICK_VERSION);
  midstick::cli::Action action;
  midstick::cli::add_run(program, action);
  midstick::cli::add_random(program, action);
  midstick::cli::add_record(program, action);
  midstick::cli::add_calibrate(program, action);
  midstick::cli::add_sweep(program, action);
  midstick::cli::add_judge(program, action);
  midstick::cli::add_trend(program, action);
  midstick::cli::add_bench(program, action);
  midstick::cli::add_validate(program, action);
  midstick::cli::add_schema(program, action);
  midstick::cli::add_daemon_commands(program, action);
  midstick::cli::add_list_commands(program, action);
  midstick::cli::add_export(program, action);
  return midstick::cli::parse_and_run(program, action, argc, argv);
}
