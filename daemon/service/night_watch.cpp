#include "daemon/service/night_watch.hpp"

#include <spdlog/spdlog.h>

#include <set>
#include <utility>

#include "daemon/service/answers.hpp"

namespace midstick::service {

std::string night_name(const NightConfig& night, const Night& of) { return night.name + " " + of.date; }

std::optional<store::JobRequest> due_job(const NightConfig& night, const Config& config, store::UnixMs now) {
  constexpr store::UnixMs kHour = 3'600'000;
  const auto nights = nights_around(now, night.at, night.zone);
  const PlanConfig* plan = config.plan(night.plan);
  if (!nights || !plan || now - nights->last.due_ms > night.within_h * kHour) return std::nullopt;
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

boost::asio::awaitable<void> NightWatch::run() {
  constexpr std::chrono::seconds kLook{5};
  std::set<std::string> submitted;  // saves asking the database every time; it alone decides
  for (;;) {
    for (const NightConfig& night : config_->nights) {
      const auto job = due_job(night, *config_, now_ms());
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
