// midstick export: what the daemon has kept, as files for other programs. Reads the database itself, whether the daemon runs or not.
#include <CLI/CLI.hpp>
#include <cstdio>
#include <memory>

#include "daemon/cli/commands.hpp"
#include "daemon/store/export.hpp"

namespace midstick::cli {
namespace {

struct Options {
  std::filesystem::path out, keep{"midstick-store"};
  std::string database{"sqlite"}, as{"json"};
  store::RunFilter filter;
};

Status write(const Options& o, store::Records& records) {
  if (o.as == "csv") return store::export_csv(records, o.filter, o.out);
  if (o.as == "folders") return store::export_folders(records, o.filter, o.keep / "runs", o.out);
  return store::export_json(records, o.filter, o.out);
}

int export_records(const Options& o) {
  const std::filesystem::path file = o.keep / "records.db";
  std::error_code ignored;
  if (o.database == "sqlite" && !std::filesystem::exists(file, ignored))  // opening it would make an empty one
    return report_error({ErrorKind::bad_file, file.string() + ": there is no database; expected what a daemon keeps (--keep)"});
  auto records = store::Records::open(o.database == "sqlite" ? "sqlite:" + file.string() : o.database);
  if (!records) return report_error(records.error());
  if (const auto s = write(o, **records); !s) return report_error(s.error());
  std::printf("%s\n", o.out.c_str());
  return 0;
}

}  // namespace

void add_export(CLI::App& program, Action& action) {
  auto o = std::make_shared<Options>();
  auto* c = program.add_subcommand("export", "Write the daemon's runs, checks and measured values to files.");
  c->add_option("OUT", o->out, "File (json) or folder (csv, folders) to write")->required();
  c->add_option("--as", o->as, "json: one document; csv: three tables; folders: the run folders themselves")
      ->check(CLI::IsMember({"json", "csv", "folders"}))
      ->capture_default_str();
  c->add_option("--keep", o->keep, "Folder where the daemon keeps its runs")->capture_default_str();
  c->add_option("--database", o->database, "As in the daemon's configuration: sqlite or postgresql:...")->capture_default_str();
  c->add_option("--controller", o->filter.controller, "Only this controller's runs");
  c->add_option("--plan", o->filter.plan, "Only this plan's runs");
  c->add_option("--verdict", o->filter.verdict, "Only these")->check(CLI::IsMember({"pass", "fail", "inconclusive"}));
  c->callback([o, &action] { action = [o] { return export_records(*o); }; });
}

}  // namespace midstick::cli
