// A process that keeps records is killed (-9) at a system call drawn by lot, again and again over one database. Whatever was acknowledged is
// there, nothing is there twice, and what was cut short is marked and played again.
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

constexpr int kKills = 120;
constexpr unsigned kSeed = 20261125;
constexpr int kJobsEach = 4;

/// What the child tells before it goes on: 's'ubmitted job, 'b'egun run, 'f'inished run.
struct Told {
  char what;
  std::int64_t id;
};

const std::vector<store::CheckRow> kChecks{{"neutral", "pass", "", "", false}, {"mix", "pass", "", "", false}, {"link-loss", "fail", "", "", false}};
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
  /// Lets a child work and kills it at its `stop`-th system call stop, or never (0). How many there were.
  long run_child(long stop) {
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
      ::ptrace(PTRACE_SYSCALL, child, nullptr, nullptr);
      ::waitpid(child, &status, 0);
      over = WIFEXITED(status) || WIFSIGNALED(status);
      ++calls;
    }
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

  void expect_sound() {
    auto records = open();
    ASSERT_TRUE(records);
    interrupted_ += static_cast<int>(must(records->recover(9)).size());
    ASSERT_TRUE(must(records->running()).empty());
    std::map<std::int64_t, std::vector<store::RunRow>> runs_of;
    std::set<std::int64_t> runs, complete;
    store::RunFilter filter;
    filter.limit = 200;
    for (;;) {
      const auto page = must(records->runs(filter));
      for (const auto& run : page) {
        EXPECT_TRUE(runs.insert(run.id).second);
        runs_of[run.job].push_back(run);
        if (run.state == "complete") complete.insert(run.id);
        else EXPECT_EQ(run.state, "interrupted");
        const bool whole = run.state == "complete";
        EXPECT_EQ(must(records->checks(run.id)).size(), whole ? kChecks.size() : 0u) << "run " << run.id;
        EXPECT_EQ(must(records->metrics(run.id)).size(), whole ? kMetrics.size() : 0u) << "run " << run.id;
      }
      if (page.size() < 200) break;
      filter.before = page.back().id;
    }
    for (const auto id : told_['f']) EXPECT_TRUE(complete.contains(id)) << "finished run " << id << " is lost";
    for (const auto id : told_['b']) EXPECT_TRUE(runs.contains(id)) << "begun run " << id << " is lost";
    for (const auto id : told_['s']) {
      const auto job = must(records->job(id));
      ASSERT_TRUE(job.has_value()) << "submitted job " << id << " is lost";
      int finished = 0;
      for (const auto& run : runs_of[id]) finished += run.state == "complete";
      EXPECT_LE(finished, 1) << "job " << id << " was finished twice";
      EXPECT_EQ(job->begun, static_cast<int>(runs_of[id].size()));
      EXPECT_EQ(job->state == store::JobState::done, finished == 1) << "job " << id;
      if (finished == 0) {
        EXPECT_EQ(job->state, job->begun < job->request.tries ? store::JobState::queued : store::JobState::interrupted);
      }
    }
  }

  std::map<char, std::set<std::int64_t>> told_;
  int killed_{0}, interrupted_{0};
};
MIDSTICK_ON_BOTH_ENGINES(Kill);

TEST_P(Kill, AtAnyInstantLosesNoFinishedRunAndDoublesNone) {
  const long calls = run_child(0);
  ASSERT_EQ(told_['f'].size(), static_cast<std::size_t>(kJobsEach));
  std::mt19937 lot(kSeed);
  for (int i = 0; i < kKills && !HasFailure(); ++i) {
    const long stop = std::uniform_int_distribution<long>(1, calls)(lot);
    SCOPED_TRACE("seed " + std::to_string(kSeed) + ", kill " + std::to_string(i) + " at system call " + std::to_string(stop));
    run_child(stop);
    expect_sound();
  }
  // Or the test looked at nothing.
  EXPECT_GT(killed_, kKills * 9 / 10);
  EXPECT_GT(interrupted_, 10);
  EXPECT_GT(told_['f'].size(), static_cast<std::size_t>(kKills));
}

}  // namespace
}  // namespace midstick::records_test
