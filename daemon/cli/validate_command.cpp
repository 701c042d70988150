// midstick validate FILE...   and   midstick schema KIND
#include <CLI/CLI.hpp>
#include <cstdio>
#include <memory>
#include <nlohmann/json.hpp>

#include "daemon/cli/commands.hpp"
#include "daemon/script/load.hpp"

namespace midstick::cli {
namespace {

struct Options {
  std::vector<std::string> files;
  bool json{false};
};

/// What stands in the way, and of which files: a plan and a daemon's configuration fail with what they name.
struct Cause {
  Error error;
  std::vector<std::string> files;
};

void add(std::vector<Cause>& causes, const Error& error, const std::string& file) {
  for (Cause& c : causes)
    if (c.error.message == error.message) return c.files.push_back(file);
  causes.push_back({error, {file}});
}

/// Each cause once. Exit code of the last.
int report(const std::vector<Cause>& causes) {
  int code = 0;
  for (const Cause& c : causes) {
    code = report_error(c.error);
    std::string others;
    for (const auto& file : c.files)
      if (!c.error.message.starts_with(file + ":")) others += (others.empty() ? "" : ", ") + file;
    if (!others.empty()) std::fprintf(stderr, "  stands in the way of %s\n", others.c_str());
  }
  return code;
}

int validate(const Options& options) {
  std::vector<Cause> causes;
  auto answers = nlohmann::json::array();
  for (const auto& file : options.files) {
    const auto checked = script::validate_file(file);
    if (!checked) add(causes, checked.error(), file);
    if (options.json && checked)
      answers.push_back({{"file", file}, {"ok", true}, {"kind", script::name(checked->kind)}, {"name", checked->name}});
    else if (options.json)
      answers.push_back({{"file", file}, {"ok", false}, {"error", checked.error().message}});
    else if (checked)
      std::printf("%s: ok, %s \"%s\"\n", file.c_str(), std::string(script::name(checked->kind)).c_str(), checked->name.c_str());
  }
  if (options.json) std::printf("%s\n", answers.dump(2, ' ', false, nlohmann::json::error_handler_t::replace).c_str());
  std::fflush(stdout);
  return report(causes);
}

}  // namespace

void add_validate(CLI::App& program, Action& action) {
  auto options = std::make_shared<Options>();
  auto* command = program.add_subcommand("validate", "Check controller, mixer, sticks and plan files. Powers nothing.");
  command->add_option("FILE", options->files, "Files; each says its kind by its \"format\"")->required();
  command->add_flag("--json", options->json, "Answer as JSON");
  command->callback([options, &action] { action = [options] { return validate(*options); }; });
}

void add_schema(CLI::App& program, Action& action) {
  auto kind = std::make_shared<std::string>();
  auto* command = program.add_subcommand("schema", "Print the JSON Schema of a file format, for your editor.");
  std::vector<std::string> names;
  for (const auto k : script::kFileKinds) names.emplace_back(script::name(k));
  command->add_option("KIND", *kind, "Format")->required()->check(CLI::IsMember(names));
  command->callback([kind, &action] {
    action = [kind] {
      for (const auto k : script::kFileKinds)
        if (script::name(k) == *kind) std::printf("%s", std::string(script::schema_text(k)).c_str());
      return 0;
    };
  });
}

}  // namespace midstick::cli
