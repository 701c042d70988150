// A process that keeps records is killed (-9) at an instant drawn by lot, again and again over one database: at a system call, or some
// instructions after it, for SQLite's index lies in shared memory and changes between calls. Whatever was acknowledged is there, nothing is
// there twice, and what was cut short is marked and played again.
#include <signal.h>
#include <sys/ptrace.h>
#include <sys/wait.h>
#include <unistd.h>

#include <map>
#include <random>
#include <set>

#include "tests/records/engines.hpp"

namespace midstick::records_test {
namespace {

constexpr int kKills = 250;
constexpr unsigned kSeed = 20261125;
constexpr int kJobsEach = 4;

/// What the child tells before it goes on: 's'ubmitted job, 'b'egun run, 'f'inished run.
struct Told {
  char what;
  std::int64_t id;
};

const std::vector<store::CheckRow> kChecks{
    {"neutral", "pass", "", "", false}, {"mix", "pass", "", "", false}, {"link-loss", "fail", "", "", false}};
const std::vector<store::MetricRow> kMetrics{{"neutral", "µs", 1500, 0.1}, {"latency", "ms", 20, 1}};

/// Takes up what a killed one left, then submits jobs and plays the queue until it is empty. 0 when all went well.
int keep_records(const std::string& where, int pipe) {
  const auto tell = [&](char what, std::int64_t id) {
    const Told told{what, id};
    return ::write(pipe, &told, sizeof told) == sizeof told;
  };
  auto records = store::Records::open(where);
  if (!records) return 1;
  store::Records& r = **records;
  if (!r.recover(1)) return 2;
  for (int i = 0; i < kJobsEach; ++i) {
    store::JobRequest job = request();
    job.tries = 5;
    auto id = r.submit(job, 1);
    if (!id || !tell('s', *id)) return 3;
    auto queue = r.queue();
    if (!queue || queue->empty()) return 4;
    auto run = r.begin(queue->front().id, "left bench", 2);
    if (!run || !tell('b', *run)) return 5;
    auto row = r.run(*run);
    if (!row || !*row) return 6;
    if (!r.finish(ended(**row, "fail", 3), kChecks, kMetrics, false) || !tell('f', *run)) return 7;
  }
  return 0;
}

class Kill : public AnyEngine {
 protected:
  /// To the child's next stop; false when it has ended.
  static bool goes_on(__ptrace_request how, pid_t child, int& status) {
    ::ptrace(how, child, nullptr, nullptr);
    ::waitpid(child, &status, 0);
    return WIFSTOPPED(status);
  }

  /// Lets a child work and kills it `steps` instructions after its `stop`-th stop at a system call, or never (0). How many stops there
  /// were.
  long run_child(long stop, int steps = 0) {
    int ends[2];
    EXPECT_EQ(::pipe(ends), 0);
    const pid_t child = ::fork();
    if (child == 0) {
      ::close(ends[0]);
      ::ptrace(PTRACE_TRACEME, 0, nullptr, nullptr);
      ::raise(SIGSTOP);
      ::_exit(keep_records(where_, ends[1]));
    }
    ::close(ends[1]);
    int status = 0;
    ::waitpid(child, &status, 0);
    long calls = 0;
    bool over = false;
    while (!over && (stop == 0 || calls < stop)) {
      over = !goes_on(PTRACE_SYSCALL, child, status);
      ++calls;
    }
    for (int i = 0; i < steps && !over; ++i) over = !goes_on(PTRACE_SINGLESTEP, child, status);
    if (over) {
      EXPECT_TRUE(WIFEXITED(status) && WEXITSTATUS(status) == 0) << "the child failed by itself: " << WEXITSTATUS(status);
    } else {
      ::kill(child, SIGKILL);
      ::waitpid(child, &status, 0);
      ++killed_;
    }
    for (Told told{}; ::read(ends[0], &told, sizeof told) == sizeof told;) told_[told.what].insert(told.id);
    ::close(ends[0]);
    return calls;
  }

  /// Pages are followed, so that the number of questions does not grow with the kills.
  std::map<std::int64_t, store::Job> all_jobs(store::Records& records) {
    std::map<std::int64_t, store::Job> all;
    for (std::int64_t before = 0;;) {
      const auto page = must(records.jobs(std::nullopt, before, 200));
      for (const auto& job : page) EXPECT_TRUE(all.emplace(job.id, job).second);
      if (page.size() < 200) return all;
      before = page.back().id;
    }
  }
  std::map<std::int64_t, store::RunRow> all_runs(store::Records& records) {
    std::map<std::int64_t, store::RunRow> all;
    store::RunFilter filter;
    for (filter.limit = 200;;) {
      const auto page = must(records.runs(filter));
      for (const auto& run : page) EXPECT_TRUE(all.emplace(run.id, run).second);
      if (page.size() < 200) return all;
      filter.before = page.back().id;
    }
  }
  /// Rows of a run in `table`.
  std::map<std::int64_t, std::size_t> counts(const std::string& table) {
    std::map<std::int64_t, std::size_t> all;
    for (const auto& row : must(open_database()->query("SELECT run, COUNT(*) FROM " + table + " GROUP BY run")))
      all[std::get<std::int64_t>(row[0])] = static_cast<std::size_t>(std::get<std::int64_t>(row[1]));
    return all;
  }

  /// As the daemon does it: again while the database is away. A dead writer that the server has not noticed yet may hold what recover()
  /// waits for while it waits for recover(); the server then ends one of the two, and that is recover() now and then.
  std::vector<store::RunRow> recovered(store::Records& records) {
    constexpr int kTries = 5;  // the dead writer is gone after its next statement, so one repeat is enough
    for (int n = 1;; ++n) {
      auto runs = records.recover(9);
      if (runs || !records.away() || n == kTries) return must(std::move(runs));
    }
  }

  void expect_sound() {
    auto records = open();
    ASSERT_TRUE(records);
    interrupted_ += static_cast<int>(recovered(*records).size());
    ASSERT_TRUE(must(records->running()).empty());
    auto checks = counts("check_result"), metrics = counts("metric");
    const auto runs = all_runs(*records);
    std::map<std::int64_t, int> begun, finished;  // of a job
    for (const auto& [id, run] : runs) {
      const bool whole = run.state == "complete";
      EXPECT_EQ(run.state, whole ? "complete" : "interrupted");
      EXPECT_EQ(checks[id], whole ? kChecks.size() : 0u) << "run " << id;
      EXPECT_EQ(metrics[id], whole ? kMetrics.size() : 0u) << "run " << id;
      ++begun[run.job];
      finished[run.job] += whole;
    }
    for (const auto id : told_['f'])
      EXPECT_TRUE(runs.contains(id) && runs.at(id).state == "complete") << "finished run " << id << " is lost";
    for (const auto id : told_['b']) EXPECT_TRUE(runs.contains(id)) << "begun run " << id << " is lost";
    const auto jobs = all_jobs(*records);
    for (const auto id : told_['s']) EXPECT_TRUE(jobs.contains(id)) << "submitted job " << id << " is lost";
    for (const auto& [id, job] : jobs) {
      EXPECT_LE(finished[id], 1) << "job " << id << " was finished twice";
      EXPECT_EQ(job.begun, begun[id]);
      const auto open_end = job.begun < job.request.tries ? store::JobState::queued : store::JobState::interrupted;
      EXPECT_EQ(job.state, finished[id] == 1 ? store::JobState::done : open_end) << "job " << id;
    }
  }

  std::map<char, std::set<std::int64_t>> told_;
  int killed_{0}, interrupted_{0};
};
MIDSTICK_ON_BOTH_ENGINES(Kill);

TEST_P(Kill, AtAnyInstantLosesNoFinishedRunAndDoublesNone) {
  run_child(0);  // makes the tables, which takes calls that no later one needs
  const long calls = run_child(0);
  ASSERT_EQ(told_['f'].size(), static_cast<std::size_t>(2 * kJobsEach));
  std::mt19937 lot(kSeed);
  for (int i = 0; i < kKills && !HasFailure(); ++i) {
    const long stop = std::uniform_int_distribution<long>(1, calls)(lot);
    const int steps = std::uniform_int_distribution<int>(0, 3)(lot) == 0 ? 0 : std::uniform_int_distribution<int>(1, 600)(lot);
    SCOPED_TRACE("seed " + std::to_string(kSeed) + ", kill " + std::to_string(i) + " at system call " + std::to_string(stop) + " and " +
                 std::to_string(steps) + " instructions");
    run_child(stop, steps);
    expect_sound();
  }
  // Or the test looked at nothing.
  EXPECT_GT(killed_, kKills * 9 / 10);
  EXPECT_GT(interrupted_, 10);
  EXPECT_GT(told_['f'].size(), static_cast<std::size_t>(kKills));
}

}  // namespace
}  // namespace midstick::records_test
