#include "daemon/service/night_watch.hpp"

#include <spdlog/spdlog.h>

#include <set>
#include <utility>

#include "daemon/service/answers.hpp"

namespace midstick::service {

std::string night_name(const NightConfig& night, const Night& of) { return night.name + " " + of.date; }

std::optional<store::JobRequest> due_job(const NightConfig& night, const Config& config, store::UnixMs known, store::UnixMs now) {
  constexpr store::UnixMs kHour = 3'600'000;
  const auto nights = nights_around(now, night.at, night.zone);
  const PlanConfig* plan = config.plan(night.plan);
  if (!nights || !plan || nights->last.due_ms < known || now - nights->last.due_ms > night.within_h * kHour) return std::nullopt;
  store::JobRequest job;
  job.plan = night.plan, job.controller = plan->controller, job.build = night.build, job.bench = night.bench, job.labels = night.labels;
  job.priority = night.priority, job.tries = night.tries;
  job.deadline = nights->last.due_ms + night.within_h * kHour;
  job.night = night_name(night, nights->last);
  return job;
}

NightWatch::NightWatch(boost::asio::io_context& io, RecordsDesk& records, std::function<void(std::int64_t)> on_submitted)
    : records_(records), on_submitted_(std::move(on_submitted)), timer_(io) {}

void NightWatch::configure(std::shared_ptr<const Config> config) { config_ = std::move(config); }

/// Another time of day is another schedule: moving one to an hour that has passed starts nothing either. Nothing while the database is
/// away.
boost::asio::awaitable<std::optional<store::UnixMs>> NightWatch::known(const NightConfig& night) {
  const std::string at = local_time_text(night.at), name = night.name + " " + at + " " + night.zone;
  const auto now = now_ms();
  if (const auto told = known_.find(name); told != known_.end() && told->second <= now) co_return told->second;
  const auto since = co_await records_.ask([&](store::Records& r) { return r.night_known(name, now); });
  if (!since) co_return std::nullopt;
  if (*since == now) spdlog::info("night {}: planned at {} {}", night.name, at, night.zone);
  co_return known_[name] = *since;
}

boost::asio::awaitable<void> NightWatch::run() {
  constexpr std::chrono::seconds kLook{5};
  std::set<std::string> submitted;  // saves asking the database every time; it alone decides
  for (;;) {
    const auto config = config_;  // may be replaced while the database is asked
    for (const NightConfig& night : config->nights) {
      const auto since = co_await known(night);
      const auto job = since ? due_job(night, *config, *since, now_ms()) : std::nullopt;
      if (!job || submitted.contains(job->night)) continue;
      const auto id = co_await records_.ask([&](store::Records& r) { return r.submit(*job, now_ms()); });
      if (!id) continue;  // the database is away; asked again
      submitted.insert(job->night);
      spdlog::info("night {}: job {}", job->night, *id);
      on_submitted_(*id);
    }
    timer_.expires_after(kLook);
    co_await timer_.async_wait(boost::asio::use_awaitable);
  }
}

}  // namespace midstick::service
