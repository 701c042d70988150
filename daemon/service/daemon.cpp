#include "daemon/service/daemon.hpp"

#include <spdlog/spdlog.h>
#include <systemd/sd-daemon.h>

#include <nlohmann/json.hpp>
#include <utility>

#include "daemon/http/server.hpp"
#include "daemon/page/page.hpp"
#include "daemon/service/answers.hpp"
#include "daemon/service/api.hpp"
#include "daemon/service/night_watch.hpp"
#include "daemon/service/webhooks.hpp"
#include "daemon/store/files.hpp"
#include "daemon/store/retention.hpp"

namespace midstick::service {

namespace asio = boost::asio;
namespace fs = std::filesystem;
using nlohmann::json;

namespace {

std::string where_of(const Config& config) {
  return config.database == "sqlite" ? "sqlite:" + (config.keep / "records.db").string() : config.database;
}

Result<std::vector<http::TokenRecord>> tokens_of(const Config& config) {
  if (config.listen.tokens.empty()) return std::vector<http::TokenRecord>{};
  constexpr std::size_t kMostBytes = 1 << 20;
  const auto text = store::read_file(config.listen.tokens, kMostBytes);
  if (!text) return text.error();
  auto tokens = http::read_tokens(*text, config.listen.tokens.string());
  // Without one the server would ask nobody for a token, and whoever revokes the last one means the opposite.
  if (tokens && tokens->empty())
    return Error{ErrorKind::bad_file, config.listen.tokens.string() +
                                          ": tokens: found none; expected at least one, or no such file in the "
                                          "configuration, which lets everybody in who reaches the address"};
  return tokens;
}

/// The page's files as the server wants them: from "/" on.
std::vector<http::Asset> site_assets() {
  static const std::vector<std::string> paths = [] {
    std::vector<std::string> out;
    for (const auto& a : page::assets()) out.push_back("/" + std::string(a.path));
    return out;
  }();
  std::vector<http::Asset> out;
  for (std::size_t i = 0; i < paths.size(); ++i) out.push_back({paths[i], page::assets()[i].content_type, page::assets()[i].bytes});
  return out;
}

/// What a reload cannot change while the daemon runs.
bool needs_restart(const Config& a, const Config& b) {
  return a.keep != b.keep || a.database != b.database || a.listen.address != b.listen.address || a.listen.port != b.listen.port ||
         a.listen.socket != b.listen.socket || a.listen.names != b.listen.names;
}

/// Where run folders go must be writable before anything is promised.
Status make_keep(const fs::path& keep) {
  std::error_code failed;
  for (const char* folder : {"runs", "logs"}) {
    fs::create_directories(keep / folder, failed);
    if (failed) return Error{ErrorKind::io, (keep / folder).string() + ": " + failed.message()};
  }
  return Ok{};
}

}  // namespace

class Daemon::Impl : public std::enable_shared_from_this<Daemon::Impl> {
 public:
  Impl(asio::io_context& io, Config config, Options options)
      : io_(io),
        options_(std::move(options)),
        config_(std::make_shared<const Config>(std::move(config))),
        records_(
            io, where_of(*config_), [keep = config_->keep](store::Records& r) { return recover(r, keep); }, [this] { return in_hand(); }),
        work_(io, records_, benches_, signals()),
        nights_(io, records_, [this](std::int64_t job) { on_night(job); }),
        retention_timer_(io),
        alive_timer_(io),
        parts_{io,
               options_.version,
               config_,
               records_,
               benches_,
               work_,
               evidence_,
               metrics_,
               readers_,
               std::make_shared<int>(),
               [this](const std::string& what, const std::string& id) { changed(what, id); },
               [this]() -> asio::awaitable<Status> { return read_again(); },
               [this] { return server_ ? server_->hub().counters() : http::HubCounters{}; }} {
    records_.on_change = [this] { changed("health", ""); };
    records_.on_saved = [this](const Finished& f) { saved(f); };
  }

  Status start() {
    if (auto s = make_keep(config_->keep); !s) return s;
    auto router = make_router();
    if (!router) return router.error();
    auto tokens = tokens_of(*config_);
    if (!tokens) return tokens.error();
    assets_ = site_assets();
    http::ServerOptions server;
    server.tcp = {{config_->listen.address, config_->listen.port}};
    server.unix_socket = config_->listen.socket;
    server.names = config_->listen.names;
    server.tokens = tokens.take();
    server.assets = assets_;
    auto listening = http::Server::start(io_, router.take(), std::move(server));
    if (!listening) return listening.error();
    server_ = listening.take();
    work_.configure(config_);
    nights_.configure(config_);
    begin(io_, records_.run());
    begin(io_, work());
    begin(io_, nights_.run());
    begin(io_, keep_within_bounds());
    begin(io_, stay_alive());
    ::sd_notify(0, "READY=1");
    return Ok{};
  }

  std::string page() const {
    const std::string& address = config_->listen.address;
    const bool v6 = address.find(':') != std::string::npos;
    return "http://" + (v6 ? "[" + address + "]" : address) + ":" + std::to_string(server_->ports().front()) + "/";
  }

  void reload() { begin(io_, reload_told(shared_from_this())); }

  void stop() {
    if (std::exchange(stopping_, true)) return;
    spdlog::info("stopping: pulses and controller power off first");
    ::sd_notify(0, "STOPPING=1");
    work_.wind_down();
  }

 private:
  Signals signals() {
    return {[this](const std::string& bench, std::string message) { publish("live " + bench, "live " + bench, std::move(message)); },
            [this](const std::string& what, const std::string& id) { changed(what, id); }};
  }

  void publish(std::string topic, std::string key, std::string text) {
    if (server_) server_->hub().publish({std::move(topic), std::move(key), std::move(text)});
  }

  void changed(const std::string& what, const std::string& id) {
    json which;
    const bool numbered = what == "runs" || what == "jobs";  // a bench's name may look like a number
    if (!id.empty()) which = numbered ? json(std::stoll(id)) : json(id);
    publish("changed", "changed " + what + " " + id, json{{"type", "changed"}, {"what", what}, {"id", which}}.dump());
  }

  void saved(const Finished& f) {
    metrics_.finished(f.run);
    changed("runs", std::to_string(f.run.id));
    changed("jobs", std::to_string(f.run.job));
    for (const auto& hook : config_->webhooks) tell(io_, hook, f.run);
    work_.look();
  }

  void on_night(std::int64_t job) {
    changed("jobs", std::to_string(job));
    changed("nights", "");
    work_.look();
  }

  std::vector<std::int64_t> in_hand() const { return work_.in_hand(); }

  Result<http::Router> make_router() {
    auto contract = http::Contract::read(contract_text());
    if (!contract) return contract.error();
    http::Handlers handlers;
    for (const auto bind : {bind_state, bind_benches, bind_jobs, bind_runs, bind_histories}) bind(handlers, parts_);
    return http::Router::make(contract.take(), std::move(handlers));
  }

  /// When work has ended, so has the daemon.
  asio::awaitable<void> work() {
    co_await work_.run();
    server_->stop([this] { io_.stop(); });
  }

  static asio::awaitable<void> reload_told(std::shared_ptr<Impl> self) {
    ::sd_notify(0, "RELOADING=1");
    if (const auto read = co_await self->read_again(); !read) spdlog::error("not reloaded: {}", read.error().message);
    ::sd_notify(0, "READY=1");
  }

  asio::awaitable<Status> read_again() {
    auto read = co_await on(readers_.get_executor(), [this] { return options_.read_again(); });
    if (!read) co_return read.error();
    auto tokens = tokens_of(*read);
    if (!tokens) co_return tokens.error();
    if (auto s = server_->replace_tokens(tokens.take()); !s) co_return s.error();
    if (needs_restart(*config_, *read)) spdlog::warn("reloaded, but a change of keep, database or listen needs a restart");
    // What a restart is needed for stays as it was.
    read->keep = config_->keep, read->database = config_->database, read->listen = config_->listen;
    config_ = parts_.config = std::make_shared<const Config>(read.take());
    spdlog::set_level(spdlog::level::from_str(config_->log.level));
    work_.configure(config_);
    nights_.configure(config_);
    spdlog::info("configuration read again");
    for (const char* what : {"benches", "nights", "health"}) changed(what, "");
    co_return Ok{};
  }

  asio::awaitable<void> keep_within_bounds() {
    constexpr std::chrono::minutes kEvery{10};
    for (;;) {
      const auto config = config_;
      const auto kept = co_await records_.ask([&](store::Records& r) {
        return store::keep_within(r, config->keep / "runs", {config->retention.days, config->retention.bytes}, now_ms());
      });
      if (kept) {
        for (const auto run : kept->dropped) {
          spdlog::info("run {}: its capture is dropped, its report kept", run);
          changed("runs", std::to_string(run));
        }
        if (kept->over) spdlog::warn("kept runs are over the limit, and no capture is left to drop");
      }
      // The first time comes before the database is open.
      retention_timer_.expires_after(kept ? std::chrono::steady_clock::duration(kEvery) : std::chrono::seconds(10));
      co_await retention_timer_.async_wait(asio::use_awaitable);
    }
  }

  /// Tells systemd's watchdog that this thread still turns.
  asio::awaitable<void> stay_alive() {
    std::uint64_t limit_us = 0;
    if (::sd_watchdog_enabled(0, &limit_us) <= 0) co_return;
    for (;;) {
      ::sd_notify(0, "WATCHDOG=1");
      alive_timer_.expires_after(std::chrono::microseconds(limit_us / 3));
      co_await alive_timer_.async_wait(asio::use_awaitable);
    }
  }

  asio::io_context& io_;
  Options options_;
  std::shared_ptr<const Config> config_;
  RecordsDesk records_;
  Benches benches_;
  Work work_;
  NightWatch nights_;
  Evidence evidence_;
  Metrics metrics_;
  asio::thread_pool readers_{2};
  asio::steady_timer retention_timer_, alive_timer_;
  ApiParts parts_;
  std::vector<http::Asset> assets_;
  std::unique_ptr<http::Server> server_;
  bool stopping_{false};
};

Result<std::unique_ptr<Daemon>> Daemon::start(asio::io_context& io, Config config, Options options) {
  auto impl = std::make_shared<Impl>(io, std::move(config), std::move(options));
  if (auto s = impl->start(); !s) return s.error();
  return std::unique_ptr<Daemon>(new Daemon(std::move(impl)));
}

Daemon::Daemon(std::shared_ptr<Impl> impl) : impl_(std::move(impl)) {}
Daemon::~Daemon() = default;
std::string Daemon::page() const { return impl_->page(); }
void Daemon::reload() { impl_->reload(); }
void Daemon::stop() { impl_->stop(); }

}  // namespace midstick::service
