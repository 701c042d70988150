// The database as the daemon's coroutines see it: one thread asks it, and when it is away the daemon goes on without.
//
// Call on the io thread. ask() gives Error{io} at once while the database is away; every few seconds it is tried again, also when it could
// not be opened at first. Finished runs that could not be written wait in order and are written first when it is back; until then their
// folders on disk are the record.
#pragma once

#include <boost/asio/io_context.hpp>
#include <boost/asio/steady_timer.hpp>
#include <boost/asio/thread_pool.hpp>
#include <deque>
#include <functional>
#include <memory>
#include <vector>

#include "daemon/service/on.hpp"
#include "daemon/store/records.hpp"

namespace midstick::service {

/// A run's end, as it must come into the database.
struct Finished {
  store::RunRow run;
  std::vector<store::CheckRow> checks;
  std::vector<store::MetricRow> metrics;
  bool again{false};
};

struct DatabaseState {
  bool ready{false};
  std::string detail;  ///< what is wrong; empty when ready
  store::UnixMs since{0};
  std::size_t unsaved{0};
};

class RecordsDesk {
 public:
  /// `where` as Records::open takes it. `on_open`: called on the database's thread once, when it was first opened. `in_hand`: runs that
  /// this daemon still works on; of what else is "running" when the database comes back, nobody knows.
  RecordsDesk(boost::asio::io_context& io, std::string where, std::function<Status(store::Records&)> on_open,
              std::function<std::vector<std::int64_t>()> in_hand);
  ~RecordsDesk();

  /// First try, then one every few seconds while it is away.
  boost::asio::awaitable<void> run();

  /// `question`: Result<T>(store::Records&).
  template <class Question>
  boost::asio::awaitable<std::invoke_result_t<Question, store::Records&>> ask(Question question) {
    using Answer = std::invoke_result_t<Question, store::Records&>;
    if (!state_.ready) co_return Answer(Error{ErrorKind::io, "the database is away: " + state_.detail});
    bool away = false;
    Answer answer = co_await on(thread_.get_executor(), [this, &question, &away] {
      Answer a = question(*records_);
      away = !a && records_->away();
      return a;
    });
    if (away) note_away(answer.error().message);
    co_return answer;
  }

  /// Records::begin(). Asked for by itself, since recovery must not run before the daemon knows which run it began.
  boost::asio::awaitable<Result<std::int64_t>> begin(std::int64_t job, const std::string& bench, store::UnixMs now);
  /// Written now, or kept until it can be.
  boost::asio::awaitable<void> finish(Finished finished);

  const DatabaseState& state() const { return state_; }
  std::function<void()> on_change;  ///< ready or away
  std::function<void(const Finished&)> on_saved;

 private:
  void note_away(const std::string& why);
  boost::asio::awaitable<void> try_again();
  boost::asio::awaitable<void> save_waiting();

  std::string where_;
  std::function<Status(store::Records&)> on_open_;
  std::function<std::vector<std::int64_t>()> in_hand_;
  std::unique_ptr<store::Records> records_;  // touched on its thread only, once open
  boost::asio::thread_pool thread_{1};
  boost::asio::steady_timer timer_;
  DatabaseState state_;
  std::deque<Finished> waiting_;
  bool saving_{false};
  int beginning_{0};
};

}  // namespace midstick::service
