// The daemon's work: takes jobs from the queue to benches, plays, judges, keeps.
//
// Lives on the io thread. A job goes: begun in the database, its controller prepared and the plan played on the bench's own thread, judged
// on the pool (the bench is free again by then), kept in the database. A run's folder is KEEP/runs/ID. A bench that failed (missing, unfit,
// prepare command) gives the job back to the queue while it has tries left; a person's stop ends it, also when the bench failed just
// before, and so does an opened stop loop, which holds the bench besides. Nothing is begun while the database is away, the disk is nearly
// full, or a person's stop is not yet in the database.
#pragma once

#include <boost/asio/io_context.hpp>
#include <boost/asio/steady_timer.hpp>
#include <boost/asio/thread_pool.hpp>
#include <functional>
#include <map>
#include <memory>
#include <optional>
#include <set>

#include "daemon/engine/run.hpp"
#include "daemon/service/benches.hpp"
#include "daemon/service/records_desk.hpp"

namespace midstick::service {

/// What the rest of the daemon hears of it; called on the io thread.
struct Signals {
  std::function<void(const std::string& bench, std::string message)> live;      ///< message: Live of the API
  std::function<void(const std::string& what, const std::string& id)> changed;  ///< Changed of the API
};

class Work {
 public:
  Work(boost::asio::io_context& io, RecordsDesk& records, Benches& benches, Signals signals);
  ~Work();

  void configure(std::shared_ptr<const Config> config);
  /// Looks at the queue whenever something changed, at least every second. Ends when stopping and nothing plays any more.
  boost::asio::awaitable<void> run();
  /// Look now: a job was submitted, a bench came free.
  void look();
  /// Stop every bench and begin nothing more; what played goes back to the queue.
  void wind_down();

  // A person's stop. The flag is set at once, whatever the database does, and what is stopped is not tried again.
  /// Names of the benches that played and were told to stop; what is judged just now is not tried again either.
  std::vector<std::string> stop_benches();
  bool stop_bench(const std::string& name);
  void stop_job(std::int64_t job);
  /// Cancels what waits now; how many. With an error it is done as soon as the database is back, and until then nothing begins.
  boost::asio::awaitable<Result<int>> cancel_queue(std::string why);

  /// Runs that are played, judged or about to be kept: what is not in the database yet although it is on its way.
  std::vector<std::int64_t> in_hand() const;
  /// Why no job at all begins now, for a person; empty: nothing keeps them.
  std::string holds_all_back() const;
  std::int64_t free_bytes() const { return free_bytes_; }
  std::filesystem::path folder_of(std::int64_t run) const;

  static constexpr std::int64_t kLeastFreeBytes = 200'000'000;  ///< a night's captures and reports

 private:
  boost::asio::awaitable<void> begin_what_can();
  boost::asio::awaitable<void> play(std::shared_ptr<Bench> bench, store::Job job, std::shared_ptr<const Config> config);
  boost::asio::awaitable<void> judge_and_keep(Result<engine::PlayedRun> played, store::RunRow row, bool last_try);
  Result<engine::PlayedRun> play_there(const std::shared_ptr<Bench>& on, const store::Job& job, const Config& config, std::int64_t run);
  boost::asio::awaitable<Result<int>> cancel_waiting();
  void come_free(Bench& bench);
  void hold(Bench& bench, std::int64_t run, const Error& opened);

  boost::asio::io_context& io_;
  RecordsDesk& records_;
  Benches& benches_;
  Signals signals_;
  std::shared_ptr<const Config> config_;
  boost::asio::thread_pool judges_, lookout_{1};  // the lookout asks for serial ports, however busy the judges are
  boost::asio::steady_timer timer_;
  int playing_{0};
  std::map<std::int64_t, std::int64_t> in_hand_;  // job of each run
  std::set<std::int64_t> stopped_;                // jobs, by a person
  struct CancelAll {
    std::string why;
    store::UnixMs until;
  };
  std::optional<CancelAll> cancel_all_;  // asked for by a person, and not yet in the database
  bool winding_down_{false}, look_again_{false};
  std::int64_t free_bytes_{0};
};

/// Rows of a run folder that is complete, for the database: used when a run ends, and for one that a killed daemon had finished.
Result<Finished> finished_from(const std::filesystem::path& folder, store::RunRow row, const std::string& report_json,
                               store::Records* earlier);

/// After a kill: runs whose folders are complete come into the database as they are; the others are marked, their jobs run again.
Status recover(store::Records& records, const std::filesystem::path& keep);

}  // namespace midstick::service
