// A job followed to its end by a person or a script: submit --wait and watch.
#pragma once

#include <cstdint>

#include "daemon/cli/client.hpp"

namespace midstick::cli {

/// Tells on standard error what the job waits for, whenever that changes, draws a bar while it plays (on a terminal), and prints the run's
/// verdict, or as JSON the run. Exit code by the verdict; 2 for a job that ended without a run. Blocks.
int follow(Client& client, std::int64_t job, bool json_output);

/// 0 pass, 1 fail, else 2.
int exit_of(const std::string& verdict);

}  // namespace midstick::cli
