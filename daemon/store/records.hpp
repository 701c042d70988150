// What the daemon remembers: jobs, runs with their checks and metrics, nights that were run. One class over one small database interface,
// so SQLite and PostgreSQL keep the same promises.
//
// Not thread-safe; the daemon calls it from one thread at a time and never from its io thread. Times are milliseconds of Unix time (UTC).
// An answer without an error means that it is on disk. Error{usage} is a request that cannot be met (no such job, a number out of its
// range), Error{io} the database's; `away()` says whether that one is away, full or read-only, and the same call may be made again when it
// is back. After an away() error of a writing call it may have happened all the same: finish(), cancel(), expire(), recover() and a
// submit() with a night can be repeated, and recover() finds a run that begin() wrote without being able to say so. Text that is no UTF-8
// is kept with U+FFFD in place of what is wrong.
#pragma once

#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "daemon/core/result.hpp"

namespace midstick::store {

class Database;

using UnixMs = std::int64_t;

/// queued -> running -> done; or -> cancelled (by a person, or its deadline). A job whose daemon was killed goes back to queued while tries
/// are left, and else is `interrupted`.
enum class JobState { queued, running, done, cancelled, interrupted };

struct JobRequest {
  std::string plan, controller, build;  ///< names from the configuration; build may be empty
  std::string bench;                    ///< name of one bench, or empty: any that has all `labels`
  std::vector<std::string> labels;
  std::string document;           ///< replay: an earlier run's plan.json, played in place of the plan; empty: the plan
  std::vector<std::string> only;  ///< names of the checks to play; empty: all
  std::optional<std::uint64_t> seed;
  int priority{0};                 ///< -100..100, higher first; then older first
  std::optional<UnixMs> deadline;  ///< not begun by then: cancelled
  int tries{1};                    ///< 1..5: how often in all it may be begun (interrupted, bench unfit)
  std::string night;               ///< "NAME 2026-11-25" when a schedule asked for it; unique, so a night runs once
};

struct Job {
  std::int64_t id{0};
  JobRequest request;
  JobState state{JobState::queued};
  UnixMs submitted{0};
  std::optional<UnixMs> ended;
  int begun{0};         ///< runs begun for it
  std::int64_t run{0};  ///< its last run, 0: none yet
  std::string note;     ///< why it was cancelled or interrupted
};

struct CheckRow {
  std::string name, verdict;  ///< pass | fail | inconclusive | not run
  std::string summary, cause;
  bool quarantined{false};
};

struct MetricRow {
  std::string name, unit;
  double value{0};
  std::optional<double> uncertainty;
};

/// A run's folder is under the store's folder and named by its id; this row is what lists and trends need.
struct RunRow {
  std::int64_t id{0}, job{0};
  std::string plan, controller, build, bench;
  UnixMs began{0};
  std::optional<UnixMs> ended;
  std::string state;    ///< running | complete | incomplete | interrupted | error
  std::string verdict;  ///< pass | fail | inconclusive; empty until judged
  std::string summary;
  std::string cause;  ///< first cause of the first failing check
  int failed{0}, inconclusive{0}, checks{0};
  std::int64_t bytes{0};  ///< of its folder
  bool evidence{true};    ///< capture still kept
};

struct RunFilter {
  std::string controller, plan, verdict, bench;  ///< empty: any
  std::int64_t before{0};                        ///< id, exclusive; 0: from the newest
  int limit{50};                                 ///< 1..200
};

class Records {
 public:
  /// Opens and migrates. `where`: "sqlite:PATH" or a PostgreSQL connection string "postgresql:...".
  static Result<std::unique_ptr<Records>> open(const std::string& where);
  explicit Records(std::unique_ptr<Database> database);
  ~Records();

  // Jobs
  /// Id of the new job. One with a `night` that is already there: that job's id, nothing added.
  Result<std::int64_t> submit(const JobRequest& request, UnixMs now);
  Result<std::optional<Job>> job(std::int64_t id);
  /// The job of this night; nothing when there is none.
  Result<std::optional<Job>> night(const std::string& name);
  Result<std::vector<Job>> jobs(std::optional<JobState> state, std::int64_t before, int limit);
  /// Since when a schedule of this name is known: the first time that this was asked, or now if that is earlier (the clock was set back).
  Result<UnixMs> night_known(const std::string& name, UnixMs now);
  /// Every queued job, best first: priority, then id.
  Result<std::vector<Job>> queue();
  /// True when it was queued and is now cancelled; false when it had begun or ended.
  Result<bool> cancel(std::int64_t id, const std::string& why, UnixMs now);
  /// Cancels the queued ones whose deadline has come; their ids, ascending.
  Result<std::vector<std::int64_t>> expire(UnixMs now);

  // Runs
  /// In one transaction: job queued -> running, a run row "running" beside it. Error{usage} when the job is not queued any more or
  /// its deadline has come.
  Result<std::int64_t> begin(std::int64_t job, const std::string& bench, UnixMs now);
  /// In one transaction: the run's end, its checks and metrics, and the job's state: queued again when `again` and tries are left, else
  /// interrupted for a run that is, else done. Once ended, a run stays as it is: the same end again is Ok and changes nothing, another is
  /// Error{usage}. A metric that is not a finite number is left out.
  Status finish(const RunRow& run, const std::vector<CheckRow>& checks, const std::vector<MetricRow>& metrics, bool again);
  /// After a crash: every run still "running" becomes "interrupted", its job queued again while tries are left, else interrupted. The runs.
  /// `in_hand` are left alone: what this daemon is playing, when the database was away and is back.
  Result<std::vector<RunRow>> recover(UnixMs now, const std::vector<std::int64_t>& in_hand = {});
  /// Runs whose state is "running", oldest first.
  Result<std::vector<RunRow>> running();
  Result<std::optional<RunRow>> run(std::int64_t id);
  Result<std::vector<RunRow>> runs(const RunFilter& filter);
  Result<std::vector<CheckRow>> checks(std::int64_t run);
  Result<std::vector<MetricRow>> metrics(std::int64_t run);

  // Histories: of complete runs of the plan itself. A replay plays something else and is left out.
  struct MetricAt {
    std::int64_t run{0};
    UnixMs at{0};
    std::string build;
    double value{0};
    std::optional<double> uncertainty;
  };
  struct Series {
    std::string name, unit, bench;
    std::vector<MetricAt> points;  ///< oldest first
  };
  /// Every metric of a controller under a plan, by name and then bench: another bench has another specimen of the controller on it.
  Result<std::vector<Series>> series(const std::string& controller, const std::string& plan);
  /// Verdicts of one check over the newest `limit` (1..1000) runs of a controller and build that have it, newest first.
  Result<std::vector<std::string>> verdicts(const std::string& controller, const std::string& plan, const std::string& build,
                                            const std::string& check, int limit);

  // Retention
  /// Ended runs with evidence, in the order in which their captures may go: passed, without a verdict (cut short), inconclusive, failed; of
  /// each the oldest first.
  Result<std::vector<RunRow>> droppable();
  Status evidence_dropped(std::int64_t run, std::int64_t bytes_left);
  /// How large an ended run's folder is, where it was not known when it ended.
  Status weighed(std::int64_t run, std::int64_t bytes);
  /// Sum of the folders of all ended runs.
  Result<std::int64_t> bytes_kept();

  /// The last call failed because the database is away, full, read-only or damaged, and not because the request was wrong.
  bool away() const;
  /// Reads and writes one row; what the daemon asks to know whether the database is back.
  Status probe();

 private:
  /// Error{usage}, found before the database was asked.
  Error refused(std::string why);
  /// A row of job's and run's last step in one place, for finish() and recover(); inside a transaction.
  Status end_job(std::int64_t job, const std::string& run_state, bool again, UnixMs now, const std::string& note);

  std::unique_ptr<Database> database_;
};

}  // namespace midstick::store
