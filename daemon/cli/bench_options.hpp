// The options every command with a bench shares.
#pragma once

#include <CLI/App.hpp>
#include <string>

#include "daemon/engine/open_bench.hpp"

namespace midstick::cli {

/// Imperfections of the virtual bench, in a group of their own.
void add_virtual_options(CLI::App& command, engine::VirtualConditions& conditions);

}  // namespace midstick::cli
