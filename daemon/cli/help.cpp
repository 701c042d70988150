#include "daemon/cli/help.hpp"

#include <algorithm>
#include <CLI/CLI.hpp>
#include <memory>
#include <string>
#include <utility>
#include <vector>

#include "daemon/report/list.hpp"

namespace midstick::cli {
namespace {

constexpr int kWidth = 80, kColumn = 30;

/// Broken at words; the text's own line feeds stay.
std::vector<std::string> lines_of(const std::string& text, int width) {
  report::TerminalStyle whole;
  whole.cut = false;
  std::vector<std::string> lines;
  for (std::size_t at = 0; at <= text.size();) {
    const auto end = std::min(text.find('\n', at), text.size());
    for (auto& line : report::wrapped(text.substr(at, end - at), width, whole)) lines.push_back(std::move(line));
    at = end + 1;
  }
  return lines;
}

/// A set of fixed values that is wider than a line goes on below its brace. Completion joins it again.
std::string broken_sets(const std::string& name) {
  const auto brace = name.find('{');
  if (static_cast<int>(name.size()) <= kWidth || brace == std::string::npos) return name;
  std::string out, line = name.substr(0, brace + 1);
  const std::string margin(brace + 1, ' ');
  for (std::size_t at = brace + 1; at < name.size();) {
    const auto end = std::min(name.find(',', at), name.size() - 1) + 1;
    if (static_cast<int>(line.size() + end - at) > kWidth) out += line + "\n", line = margin;
    line += name.substr(at, end - at);
    at = end;
  }
  return out + line;
}

std::string beside(const std::string& name, const std::string& about) {
  std::string out = broken_sets("  " + name);
  const std::string margin(kColumn, ' ');
  bool first = out.size() < static_cast<std::size_t>(kColumn);
  if (first) out.resize(kColumn, ' ');
  for (const auto& line : lines_of(about, kWidth - kColumn)) {
    out += first ? line : "\n" + margin + line;
    first = false;
  }
  return out + "\n";
}

class EightyColumns : public CLI::Formatter {
 public:
  std::string make_option(const CLI::Option* option, bool positional) const override {
    return beside(make_option_name(option, positional) + make_option_opts(option), make_option_desc(option));
  }
  std::string make_subcommand(const CLI::App* command) const override {
    return beside(command->get_display_name(true), command->get_description());
  }
  std::string make_description(const CLI::App* app) const override {
    std::string out;
    for (const auto& line : lines_of(app->get_description(), kWidth)) out += line + "\n";
    return out;
  }
};

}  // namespace

void lay_out_help(CLI::App& program) {
  const auto layout = std::make_shared<EightyColumns>();
  program.formatter(layout);
  for (CLI::App* command : program.get_subcommands([](CLI::App*) { return true; })) command->formatter(layout);
}

}  // namespace midstick::cli
