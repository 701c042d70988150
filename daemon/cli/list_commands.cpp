// What a running daemon is asked for: jobs, runs, show.
#include <unistd.h>

#include <chrono>
#include <CLI/CLI.hpp>
#include <cstdio>
#include <ctime>
#include <memory>
#include <nlohmann/json.hpp>
#include <string>
#include <vector>

#include "daemon/cli/client.hpp"
#include "daemon/cli/commands.hpp"
#include "daemon/cli/follow.hpp"
#include "daemon/cli/terminal.hpp"
#include "daemon/report/list.hpp"

namespace midstick::cli {
namespace {

using nlohmann::json;
using Row = std::vector<std::string>;

std::string id_or_nothing(const json& value) { return value.is_null() ? "" : std::to_string(value.get<std::int64_t>()); }

/// "2026-11-26 06:52" here, of the contract's RFC 3339 in UTC; as it is where it is none.
std::string local_minute(const std::string& utc) {
  std::tm tm{};
  if (!strptime(utc.c_str(), "%Y-%m-%dT%H:%M:%S", &tm)) return utc;
  const std::time_t at = timegm(&tm);
  char text[32];
  localtime_r(&at, &tm);
  return std::string(text, std::strftime(text, sizeof text, "%Y-%m-%d %H:%M", &tm));
}

std::string verdict_or_state(const json& run) {
  const std::string verdict = run["verdict"];
  return verdict.empty() ? run["state"].get<std::string>() : verdict;
}

struct ListKind {
  std::string target;
  Row heads;
  Row (*row)(const json&);
};

const ListKind kRuns{"runs", {"id", "began", "verdict", "plan", "controller", "build", "bench", "summary"}, [](const json& r) {
                       return Row{id_or_nothing(r["id"]),
                                  local_minute(r["began"]),
                                  verdict_or_state(r),
                                  r["plan"],
                                  r["controller"],
                                  r["build"],
                                  r["bench"],
                                  r["summary"]};
                     }};

/// Where a job may run: the bench it names, the labels it asks for, or any.
std::string bench_of(const json& job) {
  if (!job["bench"].get<std::string>().empty()) return job["bench"];
  std::string labels;
  for (const auto& l : job["labels"]) labels += (labels.empty() ? "labels " : ", ") + l.get<std::string>();
  return labels.empty() ? "any" : labels;
}

std::string note_of(const json& job) {
  const std::string note = job["note"], waits = job["waits_for"];
  return note.empty() && !waits.empty() ? "waits for " + waits : note;
}

const ListKind kJobs{"jobs", {"id", "state", "plan", "controller", "build", "bench", "run", "note"}, [](const json& j) {
                       return Row{id_or_nothing(j["id"]),  j["state"], j["plan"], j["controller"], j["build"], bench_of(j),
                                  id_or_nothing(j["run"]), note_of(j)};
                     }};

struct List : DaemonOptions {
  std::string filter;
  int limit{20};
};

int list(const List& o, const ListKind& kind, const std::string& filter) {
  auto client = Client::open(o.daemon);
  if (!client) return report_error(client.error());
  auto page = client->get_json("/api/1/" + kind.target + "?limit=" + std::to_string(o.limit) + (o.filter.empty() ? "" : filter + o.filter));
  if (!page) return report_error(page.error());
  const json& items = (*page)["items"];
  if (o.json) return std::puts(items.dump(1).c_str()), 0;
  if (items.empty()) return std::puts("none"), 0;
  std::vector<Row> rows;
  for (const json& item : items) rows.push_back(kind.row(item));
  std::fputs(report::list_text(kind.heads, rows, report::Last::cut, style_of(STDOUT_FILENO)).c_str(), stdout);
  return 0;
}

struct Show : DaemonOptions {
  std::int64_t id{0};
  std::string file;
};

int print_file(Client& client, const std::string& target, const std::string& file) {
  auto body = client.get(target + "/files/" + encoded(file));
  if (!body) return report_error(body.error());
  std::fwrite(body->data(), 1, body->size(), stdout);
  return 0;
}

void print_whole(const std::string& text, const report::TerminalStyle& style) {
  if (!style.cut) return static_cast<void>(std::puts(report::shown(text, style).c_str()));
  for (const auto& line : report::wrapped(report::shown(text, style), style.width, style)) std::puts(line.c_str());
}

void print_run(const json& run, const json& checks) {
  const auto style = style_of(STDOUT_FILENO);
  print_whole("run " + id_or_nothing(run["id"]) + ", began " + local_minute(run["began"]) + ", plan " + run["plan"].get<std::string>() +
                  ", controller " + run["controller"].get<std::string>() +
                  (run["build"].get<std::string>().empty() ? "" : ", build " + run["build"].get<std::string>()) + ", bench " +
                  run["bench"].get<std::string>(),
              style);
  std::vector<Row> rows;
  for (const json& c : checks) {
    std::string told = c["summary"];
    if (!c["cause"].get<std::string>().empty()) told = c["cause"].get<std::string>() + ": " + told;
    if (c["quarantined"]) told = "(quarantined) " + told;
    rows.push_back({c["name"], c["verdict"], told});
  }
  if (!rows.empty()) std::fputs(report::list_text({"check", "verdict", "summary"}, rows, report::Last::whole, style).c_str(), stdout);
  const std::string summary = run["summary"];
  print_whole(verdict_or_state(run) + (summary.empty() ? "" : ": " + summary), style);
}

int show(const Show& o) {
  auto client = Client::open(o.daemon);
  if (!client) return report_error(client.error());
  const std::string target = "/api/1/runs/" + std::to_string(o.id);
  if (!o.file.empty()) return print_file(*client, target, o.file);
  auto run = client->get_json(target);
  if (!run) return report_error(run.error());
  auto checks = client->get_json(target + "/checks");
  if (!checks) return report_error(checks.error());
  if (o.json)
    std::puts(json{{"run", *run}, {"checks", *checks}}.dump(1).c_str());
  else
    print_run(*run, *checks);
  return o.json ? 0 : exit_of((*run)["verdict"]);
}

}  // namespace

void add_list_commands(CLI::App& program, Action& action) {
  auto jobs = std::make_shared<List>();
  auto* c = daemon_command(program, "jobs", "The daemon's jobs, newest first.", *jobs);
  c->add_option("--state", jobs->filter, "Only these")->check(CLI::IsMember({"queued", "running", "done", "cancelled", "interrupted"}));
  c->add_option("--limit", jobs->limit, "How many")->check(CLI::Range(1, 200))->capture_default_str();
  c->callback([jobs, &action] { action = [jobs] { return list(*jobs, kJobs, "&state="); }; });

  auto runs = std::make_shared<List>();
  c = daemon_command(program, "runs", "The daemon's runs, newest first.", *runs);
  c->add_option("--verdict", runs->filter, "Only these")->check(CLI::IsMember({"pass", "fail", "inconclusive"}));
  c->add_option("--limit", runs->limit, "How many")->check(CLI::Range(1, 200))->capture_default_str();
  c->callback([runs, &action] { action = [runs] { return list(*runs, kRuns, "&verdict="); }; });

  auto one = std::make_shared<Show>();
  c = daemon_command(program, "show", "One run's checks, or one of its files.", *one);
  c->add_option("RUN", one->id, "Number of the run")->required();
  c->add_option("--file", one->file, "Print this file of the run")
      ->check(CLI::IsMember({"report.json", "junit.xml", "report.html", "capture.vcd", "capture.json", "plan.json"}));
  c->callback([one, &action] { action = [one] { return show(*one); }; });
}

}  // namespace midstick::cli
