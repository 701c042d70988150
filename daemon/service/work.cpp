#include "daemon/service/work.hpp"

#include <spdlog/spdlog.h>

#include <algorithm>
#include <boost/asio/post.hpp>
#include <boost/asio/redirect_error.hpp>
#include <thread>
#include <utility>

#include "daemon/engine/bench_calibration.hpp"
#include "daemon/service/answers.hpp"
#include "daemon/service/live_tap.hpp"
#include "daemon/service/prepare.hpp"
#include "daemon/service/verdict_rows.hpp"
#include "daemon/store/packed_file.hpp"
#include "daemon/store/retention.hpp"

namespace midstick::service {

namespace asio = boost::asio;
namespace fs = std::filesystem;

namespace {

std::string id_text(std::int64_t id) { return std::to_string(id); }

std::int64_t free_on_disk(const fs::path& folder) {
  std::error_code failed;
  const auto space = fs::space(folder, failed);
  return failed ? 0 : static_cast<std::int64_t>(std::min<std::uintmax_t>(space.available, INT64_MAX));
}

/// A folder of that number is of an earlier database (somebody began a new one): it is kept under another name.
Status make_room(const fs::path& folder) {
  std::error_code failed;
  if (!fs::exists(folder, failed)) return Ok{};
  for (int n = 1; n < 1000; ++n) {
    const fs::path aside = folder.string() + "-earlier-" + std::to_string(n);
    if (fs::exists(aside, failed)) continue;
    fs::rename(folder, aside, failed);
    if (failed) return Error{ErrorKind::io, folder.string() + ": " + failed.message()};
    spdlog::warn("{} was there before the run of that number; it is now {}", folder.string(), aside.string());
    return Ok{};
  }
  return Error{ErrorKind::io, folder.string() + " is there already"};
}

/// A capture that cannot be packed stays as it is: it only takes more room.
void pack(const fs::path& folder, std::int64_t run) {
  for (const char* name : {"capture.json", "capture.vcd"})
    if (const auto packed = store::pack_file(folder / name); !packed) spdlog::warn("run {}: {}", run, packed.error().message);
}

/// Worth another try on the same or another bench: the bench's fault, not the controller's or a person's.
bool is_the_bench(const Error& e) { return e.kind == ErrorKind::bench_missing || e.kind == ErrorKind::bench_unfit; }

/// What a mistake of ours in playing or judging gives: that run ends, with a word on it, and not the whole daemon.
template <class T, class What>
Result<T> without_exception(What what) {
  try {
    return what();
  } catch (const std::exception& e) {
    return Error{ErrorKind::io, std::string("the daemon has made a mistake: ") + e.what()};
  }
}

}  // namespace

Work::Work(asio::io_context& io, RecordsDesk& records, Benches& benches, Signals signals)
    : io_(io),
      records_(records),
      benches_(benches),
      signals_(std::move(signals)),
      judges_(std::max(1u, std::thread::hardware_concurrency())),
      timer_(io) {}

Work::~Work() {
  judges_.join();
  lookout_.join();
}

void Work::configure(std::shared_ptr<const Config> config) {
  config_ = std::move(config);
  free_bytes_ = free_on_disk(config_->keep);  // before anybody can ask
  benches_.configure(config_->benches);
  look();
}

fs::path Work::folder_of(std::int64_t run) const { return config_->keep / "runs" / id_text(run); }

void Work::look() {
  look_again_ = true;
  timer_.cancel();
}

void Work::wind_down() {
  winding_down_ = true;
  for (const auto& b : benches_.all()) benches_.stop(b->config.name);
  look();
}

std::vector<std::string> Work::stop_benches() {
  std::vector<std::string> told;
  for (const auto& b : benches_.all())
    if (stop_bench(b->config.name)) told.push_back(b->config.name);
  for (const auto& [run, job] : in_hand_) stopped_.insert(job);
  return told;
}

bool Work::stop_bench(const std::string& name) {
  if (!benches_.stop(name)) return false;
  stopped_.insert(benches_.find(name)->job);
  return true;
}

void Work::stop_job(std::int64_t job) {
  for (const auto& b : benches_.all())
    if (b->job == job) stop_bench(b->config.name);
  for (const auto& [run, of] : in_hand_)
    if (of == job) stopped_.insert(job);
}

asio::awaitable<Result<int>> Work::cancel_queue(std::string why) {
  cancel_all_ = {std::move(why), now_ms()};
  co_return co_await cancel_waiting();
}

asio::awaitable<Result<int>> Work::cancel_waiting() {
  const CancelAll all = *cancel_all_;
  const bool settled = records_.state().unsaved == 0;  // a run that ended may still give its job back to the queue
  auto count = co_await records_.ask([&](store::Records& r) -> Result<int> {
    const auto queue = r.queue();
    if (!queue) return queue.error();
    int cancelled = 0;
    for (const auto& job : *queue) {
      if (job.submitted > all.until) continue;
      const auto gone = r.cancel(job.id, all.why, now_ms());
      if (!gone) return gone.error();
      cancelled += *gone ? 1 : 0;
    }
    return cancelled;
  });
  if (count && settled && cancel_all_ && cancel_all_->until == all.until) cancel_all_.reset();
  signals_.changed("jobs", "");
  look();
  co_return count;
}

std::vector<std::int64_t> Work::in_hand() const {
  std::vector<std::int64_t> runs;
  for (const auto& [run, job] : in_hand_) runs.push_back(run);
  return runs;
}

asio::awaitable<void> Work::run() {
  constexpr std::chrono::seconds kLook{1};
  while (!winding_down_ || playing_ > 0) {
    look_again_ = false;
    const auto ports = co_await on(lookout_.get_executor(), [] { return serial_ports(); });
    if (benches_.look(ports)) signals_.changed("benches", "");
    free_bytes_ = free_on_disk(config_->keep);
    if (!winding_down_ && records_.state().ready) co_await begin_what_can();
    if (look_again_) continue;  // something changed meanwhile
    timer_.expires_after(kLook);
    boost::system::error_code woken;
    co_await timer_.async_wait(asio::redirect_error(asio::use_awaitable, woken));
  }
}

std::string Work::holds_all_back() const {
  if (winding_down_) return "the daemon's next start: it is stopping";
  if (cancel_all_) return "nothing: it is cancelled as soon as the database is back";
  if (free_bytes_ < kLeastFreeBytes) return "room on the disk that keeps the runs";
  return "";
}

asio::awaitable<void> Work::begin_what_can() {
  if (cancel_all_) {
    if (records_.state().unsaved > 0) co_return;
    const auto done = co_await cancel_waiting();
    if (!done) co_return;
  }
  const auto expired = co_await records_.ask([](store::Records& r) { return r.expire(now_ms()); });
  if (expired)
    for (const auto id : *expired) signals_.changed("jobs", id_text(id));
  if (free_bytes_ < kLeastFreeBytes) co_return;
  auto queue = co_await records_.ask([](store::Records& r) { return r.queue(); });
  if (!queue || winding_down_ || cancel_all_) co_return;  // asked for while the database was
  for (const Assignment& a : dispatch(*queue, benches_.views())) {
    const auto job = std::ranges::find(*queue, a.job, &store::Job::id);
    auto bench = benches_.find(a.bench);
    bench->job = job->id;
    bench->stop = false;
    ++playing_;
    service::begin(io_, play(std::move(bench), *job, config_));
  }
}

void Work::hold(Bench& bench, std::int64_t run, const Error& opened) {
  bench.held = "run " + id_text(run) + ": " + opened.message;
  spdlog::error("bench {} is held until a person releases it: {}", bench.config.name, bench.held);
}

void Work::come_free(Bench& bench) {
  bench.job = bench.run = 0;
  bench.progress = {};
  benches_.configure(config_->benches);  // what changed while it played
  signals_.changed("benches", bench.config.name);
  look();
}

asio::awaitable<void> Work::play(std::shared_ptr<Bench> bench, store::Job job, std::shared_ptr<const Config> config) {
  store::RunRow row;
  row.job = job.id, row.plan = job.request.plan, row.controller = job.request.controller, row.build = job.request.build;
  row.bench = bench->config.name, row.began = now_ms();
  const auto run = co_await records_.begin(job.id, row.bench, row.began);
  if (!run) {  // cancelled meanwhile, or the database went
    come_free(*bench);
    stopped_.erase(job.id);
    --playing_;
    co_return;
  }
  row.id = bench->run = *run;
  in_hand_[row.id] = job.id;
  signals_.changed("jobs", id_text(job.id));
  signals_.changed("runs", id_text(row.id));
  spdlog::info("run {}: job {}, plan {}, controller {}, build \"{}\", bench {}", row.id, job.id, row.plan, row.controller, row.build,
               row.bench);
  auto played = co_await on(bench->thread.get_executor(),
                            [&] { return without_exception<engine::PlayedRun>([&] { return play_there(bench, job, *config, row.id); }); });
  const std::int64_t id = row.id;
  const std::optional<Error> ended = played ? played->cut_short : played.error();
  if (ended && ended->kind == ErrorKind::stop_loop) hold(*bench, id, *ended);
  come_free(*bench);
  co_await judge_and_keep(std::move(played), std::move(row), job.begun + 1 >= job.request.tries);
  in_hand_.erase(id);
  stopped_.erase(job.id);
  --playing_;
  look();
}

Result<engine::PlayedRun> Work::play_there(const std::shared_ptr<Bench>& on, const store::Job& job, const Config& config,
                                           std::int64_t run) {
  Bench& bench = *on;
  const fs::path folder = config.keep / "runs" / id_text(run);
  std::error_code failed;
  fs::create_directories(folder.parent_path(), failed);
  fs::create_directories(config.keep / "logs", failed);
  if (failed) return Error{ErrorKind::io, folder.string() + ": " + failed.message()};
  if (auto s = make_room(folder); !s) return s.error();
  if (bench.stop) return Error{ErrorKind::stopped, "stopped before anything was powered"};
  // Without a controller's prepare command, the verdict would be of whatever is on the chip.
  if (const auto gone = config.lacks(job.request)) return Error{ErrorKind::bad_file, *gone};
  if (const auto* controller = config.controller(job.request.controller); controller->prepare) {
    const std::string port = bench.port.substr(bench.port.find(':') + 1);
    const fs::path log = config.keep / "logs" / ("prepare-" + id_text(run) + ".log");
    if (auto s =
            prepare(*controller->prepare, {{"bench", bench.config.name}, {"build", job.request.build}, {"port", port}}, log, bench.stop);
        !s)
      return s.error();
  }
  engine::RunRequest request;
  request.plan = config.plan(job.request.plan)->file;
  request.document = job.request.document;
  request.only = job.request.only;
  request.bench = bench.port;
  request.out = folder;
  request.seed = job.request.seed;
  request.build = job.request.build;
  request.board = bench.config.board;
  request.calibration = engine::kept_calibration(engine::board_name(bench.port, bench.config.board), config.keep);
  request.conditions = bench.config.conditions;
  request.on_notice = [run](const std::string& line) { spdlog::warn("run {}: {}", run, line); };
  LiveTap tap(bench.config.name, run);
  request.on_progress = [&](const engine::RunProgress& p) {
    auto message = tap.message(p, LiveTap::Clock::now());
    if (!message) return;
    BenchProgress progress{p.check, p.number, p.of, p.done_ms, p.total_ms};
    asio::post(io_, [this, bench = on, run, progress, text = std::move(*message)]() mutable {
      if (bench->run != run) return;
      bench->progress = std::move(progress);
      signals_.live(bench->config.name, std::move(text));
    });
  };
  return engine::play_run(request, bench.stop);
}

asio::awaitable<void> Work::judge_and_keep(Result<engine::PlayedRun> played, store::RunRow row, bool last_try) {
  Finished finished{row, {}, {}, false};
  const auto give_up = [&](const Error& e) {
    const bool stopped = e.kind == ErrorKind::stopped;
    finished.run.state = "error";
    if (stopped) finished.run.state = winding_down_ ? "interrupted" : "incomplete";
    finished.run.verdict = "inconclusive";
    finished.run.summary = stopped && winding_down_ ? "the daemon was stopped; pulses and controller power are off" : e.message;
    finished.again = !last_try && ((stopped && winding_down_) || is_the_bench(e));
  };
  if (!played) {
    give_up(played.error());
  } else {
    const fs::path folder = played->folder.path();
    const auto cut_short = played->cut_short;
    auto outcome = co_await on(judges_.get_executor(), [&] {
      auto judged = without_exception<engine::RunOutcome>([&] { return engine::judge_played(played.take()); });
      if (judged) pack(folder, row.id);
      return judged;
    });
    if (!outcome) {
      give_up(outcome.error());
    } else if (cut_short) {
      give_up(*cut_short);
      if (finished.run.state == "error") finished.run.state = "incomplete";
    } else {
      auto rows = co_await records_.ask([&](store::Records& r) { return finished_from(folder, row, outcome->report_json, &r); });
      if (!rows && !records_.state().ready) rows = finished_from(folder, row, outcome->report_json, nullptr);
      if (rows) {
        finished = rows.take();
      } else {
        give_up(rows.error());
      }
    }
  }
  if (finished.run.state != "complete") {
    const fs::path folder = folder_of(row.id);  // reports and a capture, where it began at all
    finished.run.bytes = co_await on(judges_.get_executor(), [&] { return store::folder_bytes(folder); });
  }
  finished.run.ended = now_ms();
  finished.again = finished.again && !stopped_.contains(row.job);
  spdlog::log(finished.run.verdict == "pass" ? spdlog::level::info : spdlog::level::warn, "run {}: {} {}: {}", row.id, finished.run.state,
              finished.run.verdict, finished.run.summary);
  co_await records_.finish(std::move(finished));
}

}  // namespace midstick::service
