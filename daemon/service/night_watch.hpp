// Submits each night's job when it is due, once a night, whatever the clock or the daemon do.
//
// A night's name ("nightly 2026-11-25") is unique in the database, so asking again never runs it again: after a restart, a clock set back,
// or a changed configuration. A night whose time passed while the daemon was off is still run within its `within_h` hours, then left out;
// one whose time had passed when the daemon first read of it was not missed, and nobody expects a bench to start now.
#pragma once

#include <boost/asio/steady_timer.hpp>
#include <functional>
#include <map>
#include <memory>

#include "daemon/service/config.hpp"
#include "daemon/service/records_desk.hpp"

namespace midstick::service {

/// The job that `night`, known since `known_ms`, asks for at `now_ms`; nothing when the last one is too long ago or was before. Pure.
std::optional<store::JobRequest> due_job(const NightConfig& night, const Config& config, store::UnixMs known_ms, store::UnixMs now_ms);

/// "nightly 2026-11-25"
std::string night_name(const NightConfig& night, const Night& of);

class NightWatch {
 public:
  NightWatch(boost::asio::io_context& io, RecordsDesk& records, std::function<void(std::int64_t job)> on_submitted);
  void configure(std::shared_ptr<const Config> config);
  /// Looks every few seconds: the wall clock may be set at any time.
  boost::asio::awaitable<void> run();

 private:
  boost::asio::awaitable<std::optional<store::UnixMs>> known(const NightConfig& night);

  RecordsDesk& records_;
  std::function<void(std::int64_t)> on_submitted_;
  std::shared_ptr<const Config> config_;
  std::map<std::string, store::UnixMs> known_;  // as the database has it
  boost::asio::steady_timer timer_;
};

}  // namespace midstick::service
