// The command line's commands. Each add_*() declares its options on the program; when chosen, it stores what to do in `action`.
//
// Single-threaded. Actions return the process's exit code: 0 pass, 1 fail, 2 inconclusive or stopped, 3 bench missing or unfit, 64 usage,
// 65 bad file.
#pragma once

#include <CLI/App.hpp>
#include <functional>

#include "daemon/core/result.hpp"

namespace midstick::cli {

using Action = std::function<int()>;

void add_run(CLI::App& program, Action& action);
void add_random(CLI::App& program, Action& action);
void add_record(CLI::App& program, Action& action);
void add_calibrate(CLI::App& program, Action& action);
void add_sweep(CLI::App& program, Action& action);
void add_judge(CLI::App& program, Action& action);
void add_trend(CLI::App& program, Action& action);
void add_bench(CLI::App& program, Action& action);
void add_validate(CLI::App& program, Action& action);
void add_schema(CLI::App& program, Action& action);
void add_export(CLI::App& program, Action& action);
/// submit, watch, stop, release: what a running daemon is told to do.
void add_daemon_commands(CLI::App& program, Action& action);
/// jobs, runs, show: what it is asked for.
void add_list_commands(CLI::App& program, Action& action);

/// Print "midstick: ..." on standard error; returns the exit code that belongs to the error.
int report_error(const Error& error);

/// Parse and run; CLI11's own parse errors become exit code 64, --help and --version 0.
int parse_and_run(CLI::App& program, Action& action, int argc, char** argv);

}  // namespace midstick::cli
