#include "daemon/service/records_desk.hpp"

#include <spdlog/spdlog.h>

#include <utility>

#include "daemon/service/answers.hpp"

namespace midstick::service {

namespace asio = boost::asio;

constexpr std::chrono::seconds kTryAgain{2};

RecordsDesk::RecordsDesk(asio::io_context& io, std::string where, std::function<Status(store::Records&)> on_open,
                         std::function<std::vector<std::int64_t>()> in_hand)
    : where_(std::move(where)), on_open_(std::move(on_open)), in_hand_(std::move(in_hand)), timer_(io) {
  state_.since = now_ms();
  state_.detail = "not opened yet";
}

RecordsDesk::~RecordsDesk() { thread_.join(); }

void RecordsDesk::note_away(const std::string& why) {
  if (state_.ready || state_.detail != why) spdlog::error("database away: {}", why);
  if (state_.ready) state_.since = now_ms();
  state_.ready = false;
  state_.detail = why;
  if (on_change) on_change();
}

asio::awaitable<void> RecordsDesk::try_again() {
  std::vector<std::int64_t> mine = in_hand_();
  for (const Finished& f : waiting_) mine.push_back(f.run.id);
  const auto answer = co_await on(thread_.get_executor(), [this, &mine]() -> Status {
    if (records_) {
      if (auto s = records_->probe(); !s) return s;
      // A run that was being begun when the database went may stand there although nobody plays it.
      const auto lost = records_->recover(now_ms(), mine);
      return lost ? Status(Ok{}) : Status(lost.error());
    }
    auto opened = store::Records::open(where_);
    if (!opened) return opened.error();
    if (auto s = on_open_(**opened); !s) return s;
    records_ = opened.take();
    return Ok{};
  });
  if (!answer) co_return note_away(answer.error().message);
  spdlog::info("database ready");
  state_ = {true, "", now_ms(), waiting_.size()};
  if (on_change) on_change();
  co_await save_waiting();
}

asio::awaitable<void> RecordsDesk::run() {
  for (;;) {
    if (!state_.ready && beginning_ == 0) co_await try_again();
    if (state_.ready && !waiting_.empty()) co_await save_waiting();
    timer_.expires_after(kTryAgain);
    co_await timer_.async_wait(asio::use_awaitable);
  }
}

asio::awaitable<Result<std::int64_t>> RecordsDesk::begin(std::int64_t job, const std::string& bench, store::UnixMs now) {
  ++beginning_;
  auto run = co_await ask([&](store::Records& r) { return r.begin(job, bench, now); });
  --beginning_;
  co_return run;
}

asio::awaitable<void> RecordsDesk::finish(Finished finished) {
  waiting_.push_back(std::move(finished));
  state_.unsaved = waiting_.size();
  co_await save_waiting();
}

asio::awaitable<void> RecordsDesk::save_waiting() {
  if (saving_) co_return;  // whoever saves takes them all
  saving_ = true;
  while (!waiting_.empty() && state_.ready) {
    const auto saved = co_await ask([&f = waiting_.front()](store::Records& r) { return r.finish(f.run, f.checks, f.metrics, f.again); });
    if (!saved && !state_.ready) break;
    if (!saved) spdlog::error("run {}: not kept in the database: {}", waiting_.front().run.id, saved.error().message);
    const Finished done = std::move(waiting_.front());
    waiting_.pop_front();
    state_.unsaved = waiting_.size();
    if (saved && on_saved) on_saved(done);
  }
  saving_ = false;
}

}  // namespace midstick::service
