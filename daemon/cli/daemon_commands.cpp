// What a running daemon is told to do: submit, watch, stop, release.
#include <CLI/CLI.hpp>
#include <cstdio>
#include <memory>
#include <nlohmann/json.hpp>

#include "daemon/cli/client.hpp"
#include "daemon/cli/commands.hpp"
#include "daemon/cli/follow.hpp"

namespace midstick::cli {
namespace {

using nlohmann::json;

struct Submit : DaemonOptions {
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
  if (o.wait) return follow(*client, id, o.json);
  if (o.json)
    std::puts(answer->dump(1).c_str());
  else
    std::printf("job %lld\n", static_cast<long long>(id));
  return 0;
}

struct OfBench : DaemonOptions {
  std::string bench;
};

int stop(const OfBench& o) {
  auto client = Client::open(o.daemon);
  if (!client) return report_error(client.error());
  auto answer = client->post(o.bench.empty() ? "/api/1/stop" : "/api/1/benches/" + encoded(o.bench) + "/stop", json());
  if (!answer) return report_error(answer.error());
  if (o.json) return std::puts(answer->dump(1).c_str()), 0;
  const json& benches = (*answer)["benches"];
  for (const json& b : benches) std::printf("stopping %s: pulses low and controller power off first\n", b.get<std::string>().c_str());
  if (benches.empty()) std::printf("nothing was running%s\n", o.bench.empty() ? "" : (" on " + o.bench).c_str());
  const auto cancelled = (*answer)["cancelled"].get<long long>();
  if (o.bench.empty()) std::printf("%lld queued job%s cancelled\n", cancelled, cancelled == 1 ? "" : "s");
  return 0;
}

int release(const OfBench& o) {
  auto client = Client::open(o.daemon);
  if (!client) return report_error(client.error());
  auto answer = client->post("/api/1/benches/" + encoded(o.bench) + "/release", json());
  if (!answer) return report_error(answer.error());
  if (o.json) return std::puts(answer->dump(1).c_str()), 0;
  std::printf("bench %s is released\n", o.bench.c_str());
  return 0;
}

}  // namespace

void add_daemon_commands(CLI::App& program, Action& action) {
  auto s = std::make_shared<Submit>();
  auto* c =
      daemon_command(program, "submit",
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

  auto watch = std::make_shared<std::pair<DaemonOptions, std::int64_t>>();
  c = daemon_command(program, "watch", "Follow a job to its end; exit code as of midstick run.", watch->first);
  c->add_option("JOB", watch->second, "Number of the job")->required();
  c->callback([watch, &action] {
    action = [watch] {
      auto client = Client::open(watch->first.daemon);
      return client ? follow(*client, watch->second, watch->first.json) : report_error(client.error());
    };
  });

  auto halt = std::make_shared<OfBench>();
  c = daemon_command(program, "stop", "Stop every bench now and cancel what is queued: pulses low and controller power off first.", *halt);
  c->add_option("--bench", halt->bench, "Only this bench; the queue stays");
  c->callback([halt, &action] { action = [halt] { return stop(*halt); }; });

  auto held = std::make_shared<OfBench>();
  c = daemon_command(program, "release",
                     "Let jobs begin again on a bench whose stop loop was opened.\n"
                     "CAUTION: queued jobs begin at once. Nobody near the machine, and the reason of the opening known, first.",
                     *held);
  c->add_option("BENCH", held->bench, "Name of the bench")->required();
  c->callback([held, &action] { action = [held] { return release(*held); }; });
}

}  // namespace midstick::cli
