// How --help is laid out: within 80 columns, descriptions broken at words, beside the options and below long ones.
#pragma once

#include <CLI/App.hpp>

namespace midstick::cli {

/// Sets the layout for the program and all its commands, as they are declared by now.
void lay_out_help(CLI::App& program);

}  // namespace midstick::cli
