// What is asked of a running daemon: submit, jobs, watch, runs, show, stop.
#include <unistd.h>

#include <CLI/CLI.hpp>
#include <cstdio>
#include <memory>
#include <nlohmann/json.hpp>

#include "daemon/cli/client.hpp"
#include "daemon/cli/commands.hpp"
#include "daemon/cli/terminal.hpp"
#include "daemon/report/progress.hpp"

namespace midstick::cli {
namespace {

using nlohmann::json;

struct Common {
  DaemonAddress daemon;
  bool json_output{false};
};

CLI::App* command(CLI::App& program, const char* name, const char* about, Common& common) {
  auto* c = program.add_subcommand(name, about);
  c->add_option("--daemon", common.daemon.address, "unix:PATH or http://HOST:PORT; default: $MIDSTICK_DAEMON, else the local socket");
  c->add_option("--token", common.daemon.token, "Token, where the daemon asks for one; better in $MIDSTICK_TOKEN");
  c->add_flag("--json", common.json_output, "Print the daemon's answer as JSON");
  return c;
}

int exit_of(const std::string& verdict) { return verdict == "pass" ? 0 : verdict == "fail" ? 1 : 2; }

std::string id_or_dash(const json& value) { return value.is_null() ? "-" : std::to_string(value.get<std::int64_t>()); }

/// One list row, cut to the terminal: the last column takes what is left.
void print_row(const std::vector<std::pair<std::string, int>>& columns, const std::string& last, const report::TerminalStyle& style) {
  std::string line;
  for (const auto& [text, width] : columns) line += report::fit(report::shown(text, style), width, style) + "  ";
  const int left = std::max(8, style.width - report::columns(line));
  std::puts((line + report::fit(report::shown(last, style), left, style)).c_str());
}

void print_run(const json& r, const report::TerminalStyle& style) {
  const std::string verdict = r["verdict"].get<std::string>().empty() ? r["state"].get<std::string>() : r["verdict"].get<std::string>();
  print_row({{id_or_dash(r["id"]), 6}, {verdict, 12}, {r["controller"], 14}, {r["build"], 10}}, r["summary"], style);
}

/// Follows a job to its end, a bar on the way. Exit code by the run's verdict.
int follow(Client& client, std::int64_t job, bool json_output) {
  const std::string target = "/api/1/jobs/" + std::to_string(job);
  StatusLine status;
  std::int64_t run = 0;
  json last;
  const auto look = [&]() -> Status {
    auto j = client.get_json(target);
    if (!j) return j.error();
    last = j.take();
    run = last["run"].is_null() ? 0 : last["run"].get<std::int64_t>();
    return Ok{};
  };
  const auto over = [&] { return last["state"] != "queued" && last["state"] != "running"; };
  if (auto s = look(); !s) return report_error(s.error());
  Status trouble = Ok{};
  if (!over())
    if (auto s = client.listen([&](const json& m) {
          if (m["type"] == "live" && run != 0 && m["run"] == run)
            status.show(
                report::progress_line({m["check"].get<std::string>().empty() ? "power-up and arming" : m["check"].get<std::string>(),
                                       m["segment"], m["segments"], m["done_ms"], m["total_ms"]},
                                      status.style()));
          const bool ask = m["type"] == "hello" || (m["type"] == "changed" && (m["what"] == "jobs" || m["what"] == "runs"));
          if (ask) trouble = look();
          return trouble.ok() && !over();
        });
        !s)
      return report_error(s.error());
  status.clear();
  if (!trouble) return report_error(trouble.error());
  if (run == 0) {
    std::printf("job %lld: %s%s%s\n", static_cast<long long>(job), last["state"].get<std::string>().c_str(),
                last["note"].get<std::string>().empty() ? "" : ": ", last["note"].get<std::string>().c_str());
    return 2;
  }
  auto r = client.get_json("/api/1/runs/" + std::to_string(run));
  if (!r) return report_error(r.error());
  if (json_output)
    std::puts(r->dump(1).c_str());
  else
    std::printf("run %lld: %s\n%s\n", static_cast<long long>(run), (*r)["verdict"].get<std::string>().c_str(),
                (*r)["summary"].get<std::string>().c_str());
  return exit_of((*r)["verdict"]);
}

struct Submit : Common {
  std::string plan, controller, build, bench, deadline;
  std::vector<std::string> labels, checks;
  std::int64_t seed{-1};
  int priority{0}, tries{1};
  bool wait{false};
};

int submit(const Submit& o) {
  auto client = Client::open(o.daemon);
  if (!client) return report_error(client.error());
  json job{{"plan", o.plan}, {"build", o.build}, {"priority", o.priority}, {"tries", o.tries}, {"labels", o.labels}};
  if (!o.controller.empty()) job["controller"] = o.controller;
  if (!o.bench.empty()) job["bench"] = o.bench;
  if (!o.deadline.empty()) job["deadline"] = o.deadline;
  if (!o.checks.empty()) job["checks"] = o.checks;
  if (o.seed >= 0) job["seed"] = o.seed;
  auto answer = client->post("/api/1/jobs", job);
  if (!answer) return report_error(answer.error());
  const std::int64_t id = (*answer)["id"];
  if (o.wait) return follow(*client, id, o.json_output);
  if (o.json_output)
    std::puts(answer->dump(1).c_str());
  else
    std::printf("job %lld\n", static_cast<long long>(id));
  return 0;
}

struct List : Common {
  std::string filter;
  int limit{20};
};

int list(const List& o, const std::string& target, void (*row)(const json&, const report::TerminalStyle&)) {
  auto client = Client::open(o.daemon);
  if (!client) return report_error(client.error());
  auto page = client->get_json(target);
  if (!page) return report_error(page.error());
  if (o.json_output) return std::puts((*page)["items"].dump(1).c_str()), 0;
  for (const json& item : (*page)["items"]) row(item, style_of(STDOUT_FILENO));
  if ((*page)["items"].empty()) std::puts("none");
  return 0;
}

void print_job(const json& j, const report::TerminalStyle& style) {
  std::string last = j["note"];
  if (last.empty() && !j["waits_for"].get<std::string>().empty()) last = "waits for " + j["waits_for"].get<std::string>();
  print_row({{id_or_dash(j["id"]), 6}, {j["state"], 11}, {j["plan"], 12}, {j["build"], 10}, {"run " + id_or_dash(j["run"]), 10}}, last,
            style);
}

struct Show : Common {
  std::int64_t id{0};
  std::string file;
};

int show(const Show& o) {
  auto client = Client::open(o.daemon);
  if (!client) return report_error(client.error());
  const std::string target = "/api/1/runs/" + std::to_string(o.id);
  if (!o.file.empty()) {
    auto body = client->get(target + "/files/" + encoded(o.file));
    if (!body) return report_error(body.error());
    std::fwrite(body->data(), 1, body->size(), stdout);
    return 0;
  }
  auto run = client->get_json(target);
  if (!run) return report_error(run.error());
  auto checks = client->get_json(target + "/checks");
  if (!checks) return report_error(checks.error());
  if (o.json_output) return std::puts(json{{"run", *run}, {"checks", *checks}}.dump(1).c_str()), 0;
  const auto style = style_of(STDOUT_FILENO);
  std::printf("run %lld  %s  plan %s  controller %s  build %s  bench %s\n", static_cast<long long>(o.id),
              (*run)["began"].get<std::string>().c_str(), (*run)["plan"].get<std::string>().c_str(),
              (*run)["controller"].get<std::string>().c_str(), (*run)["build"].get<std::string>().c_str(),
              (*run)["bench"].get<std::string>().c_str());
  for (const json& c : *checks) {
    std::string last = c["summary"];
    if (c["quarantined"]) last = "(quarantined) " + last;
    if (!c["cause"].get<std::string>().empty()) last = c["cause"].get<std::string>() + ": " + last;
    print_row({{c["name"], 16}, {c["verdict"], 12}}, last, style);
  }
  std::printf("%s: %s\n", (*run)["verdict"].get<std::string>().c_str(), (*run)["summary"].get<std::string>().c_str());
  return exit_of((*run)["verdict"]);
}

int stop(const Common& o, const std::string& bench) {
  auto client = Client::open(o.daemon);
  if (!client) return report_error(client.error());
  auto answer = client->post(bench.empty() ? "/api/1/stop" : "/api/1/benches/" + encoded(bench) + "/stop", json());
  if (!answer) return report_error(answer.error());
  if (o.json_output) return std::puts(answer->dump(1).c_str()), 0;
  for (const json& b : (*answer)["benches"])
    std::printf("stopping %s: pulses low and controller power off first\n", b.get<std::string>().c_str());
  std::printf("%lld queued jobs cancelled\n", (*answer)["cancelled"].get<long long>());
  return 0;
}

}  // namespace

void add_daemon_commands(CLI::App& program, Action& action) {
  auto s = std::make_shared<Submit>();
  auto* c = command(program, "submit",
                    "Give the daemon a job: a plan to play on one of its benches.\n"
                    "CAUTION: the bench powers the controller when the job's turn comes. Motors disconnected, or tracks off the ground.",
                    *s);
  c->add_option("PLAN", s->plan, "Name of a plan of the daemon's configuration")->required();
  c->add_option("--controller", s->controller, "Default: the plan's");
  c->add_option("--build", s->build, "Label of the controller's build");
  c->add_option("--bench", s->bench, "One bench by name; default: any that has the labels");
  c->add_option("--label", s->labels, "Label that the bench must have; may be given several times");
  c->add_option("--only", s->checks, "Play only this check; may be given several times");
  c->add_option("--seed", s->seed, "Replaces the plan's seed")->check(CLI::Range(std::int64_t{0}, std::int64_t{4294967295}));
  c->add_option("--priority", s->priority, "-100 to 100, higher first")->check(CLI::Range(-100, 100));
  c->add_option("--tries", s->tries, "How often it may be begun, where the bench fails")->check(CLI::Range(1, 5));
  c->add_option("--deadline", s->deadline, "Not begun by then: cancelled. RFC 3339, say 2026-11-26T06:00:00Z");
  c->add_flag("--wait", s->wait, "Follow it to its end; exit code as of midstick run");
  c->callback([s, &action] { action = [s] { return submit(*s); }; });

  auto jobs = std::make_shared<List>();
  c = command(program, "jobs", "The daemon's jobs, newest first.", *jobs);
  c->add_option("--state", jobs->filter, "Only these")->check(CLI::IsMember({"queued", "running", "done", "cancelled", "interrupted"}));
  c->add_option("--limit", jobs->limit, "How many")->check(CLI::Range(1, 200))->capture_default_str();
  c->callback([jobs, &action] {
    action = [jobs] {
      return list(*jobs, "/api/1/jobs?limit=" + std::to_string(jobs->limit) + (jobs->filter.empty() ? "" : "&state=" + jobs->filter),
                  print_job);
    };
  });

  auto runs = std::make_shared<List>();
  c = command(program, "runs", "The daemon's runs, newest first.", *runs);
  c->add_option("--verdict", runs->filter, "Only these")->check(CLI::IsMember({"pass", "fail", "inconclusive"}));
  c->add_option("--limit", runs->limit, "How many")->check(CLI::Range(1, 200))->capture_default_str();
  c->callback([runs, &action] {
    action = [runs] {
      return list(*runs, "/api/1/runs?limit=" + std::to_string(runs->limit) + (runs->filter.empty() ? "" : "&verdict=" + runs->filter),
                  print_run);
    };
  });

  auto watch = std::make_shared<Show>();
  c = command(program, "watch", "Follow a job to its end; exit code as of midstick run.", *watch);
  c->add_option("JOB", watch->id, "Number of the job")->required();
  c->callback([watch, &action] {
    action = [watch] {
      auto client = Client::open(watch->daemon);
      return client ? follow(*client, watch->id, watch->json_output) : report_error(client.error());
    };
  });

  auto one = std::make_shared<Show>();
  c = command(program, "show", "One run's checks, or one of its files.", *one);
  c->add_option("RUN", one->id, "Number of the run")->required();
  c->add_option("--file", one->file, "Print a file of the run: report.json, junit.xml, report.html, capture.vcd, capture.json, plan.json");
  c->callback([one, &action] { action = [one] { return show(*one); }; });

  auto halt = std::make_shared<std::pair<Common, std::string>>();
  c = command(program, "stop", "Stop every bench now and cancel what is queued: pulses low and controller power off first.", halt->first);
  c->add_option("--bench", halt->second, "Only this bench; the queue stays");
  c->callback([halt, &action] { action = [halt] { return stop(halt->first, halt->second); }; });
}

}  // namespace midstick::cli
