// The daemon's work and nights while the database takes its time: what was decided before it answered must be decided again after.
#include "daemon/service/work.hpp"

#include <gtest/gtest.h>

#include <boost/asio/post.hpp>
#include <boost/asio/redirect_error.hpp>
#include <filesystem>
#include <future>
#include <optional>

#include "daemon/service/answers.hpp"
#include "daemon/service/config.hpp"
#include "daemon/service/night_watch.hpp"

namespace midstick::service {
namespace {

namespace asio = boost::asio;
namespace fs = std::filesystem;

/// A daemon's inside with one bench, whose database can be held up.
class Inside {
 public:
  Inside() : folder_(fs::path(::testing::TempDir()) / ::testing::UnitTest::GetInstance()->current_test_info()->name()) {
    fs::remove_all(folder_);
    fs::create_directories(folder_ / "runs");
    config->keep = folder_;
    config->benches.push_back({"desk", "serial:/dev/null", {}, "", {}});  // it is there, and no board is behind it
    config->controllers.push_back({"mower", {}});
    config->plans.push_back({"nightly", folder_ / "nightly.json", "mower"});
    records.emplace(
        io, "sqlite:" + (folder_ / "records.db").string(), [](store::Records&) -> Status { return Ok{}; },
        [] { return std::vector<std::int64_t>{}; });
    work.emplace(io, *records, benches,
                 Signals{[](const auto&, const auto&) {},
                         [this](const std::string& what, const auto&) {
                           if (on_changed) on_changed(what);
                         }});
  }
  ~Inside() {
    work.reset(), records.reset();
    fs::remove_all(folder_);
  }

  /// Runs `scene` once the database is open, and everything else until it ends.
  void play(std::function<asio::awaitable<void>(Inside&)> scene) {
    records->on_change = [&, begun = false]() mutable {
      if (!records->state().ready || std::exchange(begun, true)) return;
      asio::co_spawn(io, scene(*this), [this](const std::exception_ptr& wrong) {
        io.stop();
        if (wrong) std::rethrow_exception(wrong);
      });
    };
    begin(io, records->run());
    io.run();
  }

  /// Holds the database's thread up until release() or let_go.
  void hold_database() {
    let_go_ = {};
    begin(io, held(let_go_.get_future().share()));
  }
  void let_database_go() { let_go_.set_value(); }

  std::int64_t waiting_job() {
    store::JobRequest job;
    job.plan = "nightly", job.controller = "mower";
    return store::Records::open("sqlite:" + (folder_ / "records.db").string()).take()->submit(job, now_ms()).take();
  }
  asio::awaitable<store::Job> job(std::int64_t id) {
    auto found = co_await records->ask([&](store::Records& r) { return r.job(id); });
    co_return **found;
  }

  std::function<void(const std::string& what)> on_changed;
  asio::io_context io;
  std::shared_ptr<Config> config = std::make_shared<Config>();
  Benches benches;
  std::optional<RecordsDesk> records;
  std::optional<Work> work;

 private:
  asio::awaitable<void> held(std::shared_future<void> until) {
    co_await records->ask([&](store::Records&) -> Result<int> { return until.wait(), 0; });
  }
  fs::path folder_;
  std::promise<void> let_go_;
};

/// What is said of the disk before the work began must be true: a first look at the page came before it, and was told of a full disk.
TEST(Work, KnowsItsDiskAsSoonAsItIsConfigured) {
  Inside inside;
  inside.work->configure(inside.config);
  EXPECT_GT(inside.work->free_bytes(), 0);
}

TEST(Work, BeginsNothingWhenItWasToldToEndWhileTheDatabaseWasAsked) {
  Inside inside;
  std::optional<store::Job> job;
  inside.play([&](Inside& in) -> asio::awaitable<void> {
    const auto id = in.waiting_job();
    in.work->configure(in.config);
    in.hold_database();
    in.on_changed = [&, told = false](const std::string& what) mutable {  // the bench is there now, and next the work asks for its queue
      if (what == "benches" && !std::exchange(told, true)) asio::post(in.io, [&] { in.work->wind_down(), in.let_database_go(); });
    };
    co_await in.work->run();
    job = co_await in.job(id);
  });
  ASSERT_TRUE(job);
  EXPECT_EQ(job->state, store::JobState::queued);
  EXPECT_EQ(job->begun, 0);
}

asio::awaitable<void> mistaken() {
  throw std::runtime_error("nobody expected this");
  co_return;
}

/// Half a daemon that went on would hold its jobs as running for ever; a board that hears nothing goes safe by itself.
TEST(BeginDeathTest, AnExceptionThatNobodyExpectedEndsTheDaemon) {
  EXPECT_DEATH(
      {
        asio::io_context io;
        begin(io, mistaken());
        io.run();
      },
      "nobody expected this");
}

NightConfig due_at(store::UnixMs at) {
  NightConfig night;
  night.name = "nightly", night.plan = "nightly", night.zone = "Etc/UTC";
  const auto minute = at / 60'000 % 1440;
  night.at = {static_cast<int>(minute / 60), static_cast<int>(minute % 60)};
  return night;
}

TEST(DueJob, IsNoneOfANightThatPassedBeforeAnybodyKnewOfIt) {
  constexpr store::UnixMs kMinute = 60'000;
  const store::UnixMs due = 1'795'000'020'000 / kMinute * kMinute;
  Config config;
  config.plans.push_back({"nightly", "nightly.json", "mower"});
  const auto night = due_at(due);
  EXPECT_FALSE(due_job(night, config, due + kMinute, due + 2 * kMinute)) << "just planned, for an hour that has passed";
  EXPECT_TRUE(due_job(night, config, due, due + 2 * kMinute));
  EXPECT_TRUE(due_job(night, config, due - kMinute, due + 2 * kMinute)) << "the daemon was off";
  EXPECT_FALSE(due_job(night, config, due - kMinute, due + 7 * 60 * kMinute)) << "more than within_h ago";
}

/// Under AddressSanitizer: the configuration goes while one of its nights waits for the database.
TEST(NightWatch, IsReconfiguredWhileTheDatabaseIsAsked) {
  Inside inside;
  inside.config->nights.push_back(due_at(now_ms() - 120'000));
  std::optional<std::int64_t> submitted;
  asio::steady_timer wait(inside.io, asio::steady_timer::time_point::max());
  NightWatch nights(inside.io, *inside.records, [&](std::int64_t id) { submitted = id, wait.cancel(); });
  inside.play([&](Inside& in) -> asio::awaitable<void> {
    const auto& night = in.config->nights.front();
    const std::string at = local_time_text(night.at);
    const auto known = co_await in.records->ask([&](store::Records& r) { return r.night_known("nightly " + at + " Etc/UTC", 1000); });
    EXPECT_TRUE(known) << "planned long ago";
    nights.configure(std::make_shared<const Config>(*in.config));
    in.hold_database();
    begin(in.io, nights.run());
    asio::post(in.io, [&] { nights.configure(std::make_shared<const Config>(*in.config)), in.let_database_go(); });
    boost::system::error_code woken;
    co_await wait.async_wait(asio::redirect_error(asio::use_awaitable, woken));
  });
  EXPECT_TRUE(submitted);
}

}  // namespace
}  // namespace midstick::service
