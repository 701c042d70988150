#include "daemon/cli/follow.hpp"

#include <cstdio>
#include <nlohmann/json.hpp>
#include <string>

#include "daemon/cli/commands.hpp"
#include "daemon/cli/terminal.hpp"
#include "daemon/report/progress.hpp"

namespace midstick::cli {
namespace {

using nlohmann::json;

class Follower {
 public:
  Follower(Client& client, std::int64_t job) : client_(client), job_(job), target_("/api/1/jobs/" + std::to_string(job)) {}

  /// Asks for the job, and tells what is new about its waiting.
  Status look() {
    auto j = client_.get_json(target_);
    if (!j) return j.error();
    last_ = j.take();
    run_ = last_["run"].is_null() ? 0 : last_["run"].get<std::int64_t>();
    const std::string waits = last_["state"] == "queued" ? last_["waits_for"].get<std::string>() : "";
    if (!waits.empty() && waits != waits_) {
      status_.clear();
      std::fprintf(stderr, "job %lld waits for %s\n", static_cast<long long>(job_), report::shown(waits, status_.style()).c_str());
    }
    waits_ = waits;
    return Ok{};
  }

  bool over() const { return last_["state"] != "queued" && last_["state"] != "running"; }

  /// A message of the daemon; false: it is over, or asking again gave trouble.
  bool take(const json& m) {
    if (m["type"] == "live" && run_ != 0 && m["run"] == run_)
      status_.show(
          report::progress_line(words_.told({m["check"], m["segment"], m["segments"], m["done_ms"], m["total_ms"]}), status_.style()));
    // What a job waits for hangs on benches and on the store as well.
    if (m["type"] == "hello" || m["type"] == "changed") trouble = look();
    return trouble.ok() && !over();
  }

  void clear() { status_.clear(); }
  std::int64_t run() const { return run_; }
  const json& job() const { return last_; }

  Status trouble = Ok{};

 private:
  Client& client_;
  const std::int64_t job_;
  const std::string target_;
  StatusLine status_;
  report::ProgressWords words_;
  std::int64_t run_{0};
  json last_;
  std::string waits_;
};

int tell_run(Client& client, std::int64_t run, bool json_output) {
  auto r = client.get_json("/api/1/runs/" + std::to_string(run));
  if (!r) return report_error(r.error());
  const std::string verdict = (*r)["verdict"];
  if (json_output)
    std::puts(r->dump(1).c_str());
  else
    std::printf("run %lld: %s\n%s\n", static_cast<long long>(run), (verdict.empty() ? (*r)["state"].get<std::string>() : verdict).c_str(),
                (*r)["summary"].get<std::string>().c_str());
  return exit_of(verdict);
}

}  // namespace

int exit_of(const std::string& verdict) { return verdict == "pass" ? 0 : verdict == "fail" ? 1 : 2; }

int follow(Client& client, std::int64_t job, bool json_output) {
  Follower follower(client, job);
  if (auto s = follower.look(); !s) return report_error(s.error());
  if (!follower.over())
    if (auto s = client.listen([&](const json& m) { return follower.take(m); }); !s) return report_error(s.error());
  follower.clear();
  if (!follower.trouble) return report_error(follower.trouble.error());
  if (follower.run() != 0) return tell_run(client, follower.run(), json_output);
  const json& ended = follower.job();
  const std::string note = ended["note"];
  if (json_output)
    std::puts(ended.dump(1).c_str());
  else
    std::printf("job %lld: %s%s%s\n", static_cast<long long>(job), ended["state"].get<std::string>().c_str(), note.empty() ? "" : ": ",
                note.c_str());
  return 2;
}

}  // namespace midstick::cli
