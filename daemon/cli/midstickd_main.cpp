// midstickd: the daemon's arguments and signals. SIGTERM and Ctrl-C stop it, pulses and power first; SIGHUP reads the configuration again.
#include <spdlog/spdlog.h>
#include <sys/stat.h>

#include <boost/asio/io_context.hpp>
#include <boost/asio/signal_set.hpp>
#include <CLI/CLI.hpp>
#include <cstdio>
#include <filesystem>
#include <memory>

#include "daemon/cli/commands.hpp"
#include "daemon/http/tokens.hpp"
#include "daemon/service/daemon.hpp"
#include "daemon/service/log.hpp"

namespace midstick::cli {
namespace {

namespace fs = std::filesystem;
using service::Config;

struct Options {
  fs::path config, keep;
  int port{-1};
  bool check{false};
};

/// The mower demo beside this program: in the build tree, or installed.
fs::path mower_folder() {
  std::error_code failed;
  const fs::path program = fs::read_symlink("/proc/self/exe", failed);
  for (const char* from : {"../../fixtures/mower", "../share/midstick/mower"})
    if (const fs::path at = (program.parent_path() / from).lexically_normal(); fs::exists(at / "controller.json", failed)) return at;
  return {};
}

Result<Config> configured(const Options& o) {
  Config config;
  if (o.config.empty()) {
    const fs::path mower = mower_folder();
    if (mower.empty()) return Error{ErrorKind::usage, "the mower demo is not installed beside this program; expected --config FILE"};
    std::error_code ignored;
    config = service::demo_config(mower, fs::absolute("midstick-store", ignored));
  } else {
    auto read = service::read_config(o.config);
    if (!read) return read.error();
    config = read.take();
  }
  if (!o.keep.empty()) {
    std::error_code ignored;
    const bool own_socket = config.listen.socket == config.keep / "midstick.sock";
    config.keep = fs::absolute(o.keep, ignored);
    if (own_socket) config.listen.socket = config.keep / "midstick.sock";
  }
  if (o.port >= 0) config.listen.port = static_cast<std::uint16_t>(o.port);
  return config;
}

int say_what_it_would_do(const Config& config) {
  const auto some = [](std::size_t n, const char* one, const char* more) { return std::to_string(n) + " " + (n == 1 ? one : more); };
  std::printf("%s, %s, %s, %s; keeps runs in %s\n", some(config.benches.size(), "bench", "benches").c_str(),
              some(config.controllers.size(), "controller", "controllers").c_str(), some(config.plans.size(), "plan", "plans").c_str(),
              some(config.nights.size(), "night", "nights").c_str(), config.keep.c_str());
  for (const auto& n : config.nights)
    std::printf("night %s: plan %s at %s %s\n", n.name.c_str(), n.plan.c_str(), service::local_time_text(n.at).c_str(), n.zone.c_str());
  return 0;
}

int serve(const Options& options) {
  auto config = configured(options);
  if (!config) return report_error(config.error());
  if (options.check) return say_what_it_would_do(*config);
  std::error_code ignored;
  fs::create_directories(config->keep / "logs", ignored);
  service::set_up_log(*config);
  boost::asio::io_context io;
  auto daemon = service::Daemon::start(io, config.take(), {MIDSTICK_VERSION, [options] { return configured(options); }});
  if (!daemon) {
    spdlog::error("{}", daemon.error().message);
    return exit_code(daemon.error().kind);
  }
  std::printf("page: %s\n", (*daemon)->page().c_str());
  std::puts("CAUTION: this program powers controllers unattended. Motors disconnected, supply fused. See README.md.");
  std::fflush(stdout);
  spdlog::info("midstickd {} listens; page {}", MIDSTICK_VERSION, (*daemon)->page());
  boost::asio::signal_set signals(io, SIGINT, SIGTERM, SIGHUP);
  std::function<void()> wait = [&] {
    signals.async_wait([&](const boost::system::error_code& error, int signal) {
      if (error) return;
      signal == SIGHUP ? (*daemon)->reload() : (*daemon)->stop();
      wait();
    });
  };
  wait();
  io.run();
  spdlog::info("stopped");
  return 0;
}

struct NewToken {
  std::string name, scope{"read"};
  int days{0};
};

int make_token(const NewToken& o) {
  std::optional<http::WallTime> expires;
  if (o.days > 0) expires = std::chrono::system_clock::now() + std::chrono::hours(24 * o.days);
  const auto token = http::new_token(o.name, *http::scope_of(o.scope), expires);
  if (!token) return report_error(token.error());
  std::printf("%s\n", token->token.c_str());
  std::fprintf(stderr, "This token is shown once. For \"tokens\" of the daemon's tokens file:\n%s\n",
               http::token_record_json(token->record).c_str());
  return 0;
}

}  // namespace
}  // namespace midstick::cli

int main(int argc, char** argv) {
  using namespace midstick::cli;
  CLI::App program{
      "The bench daemon: runs plans on its benches, every night by itself, keeps the results and shows them in a browser.\n"
      "CAUTION: powers controllers unattended. Only with motors disconnected, on a fused supply. See README.md.",
      "midstickd"};
  program.set_version_flag("--version", MIDSTICK_VERSION);
  Options options;
  program.add_option("--config", options.config, "Configuration (JSON); none: one virtual bench and the mower demo");
  program.add_option("--keep", options.keep, "Folder for runs, database and logs, in place of the configuration's");
  program.add_option("--port", options.port, "Port of the page, in place of the configuration's; 0: one that is free")
      ->check(CLI::Range(0, 65535));
  program.add_flag("--check", options.check, "Read the configuration, say what it asks for, and exit");
  Action action = [&options] { return serve(options); };
  NewToken token;
  auto* t = program.add_subcommand("token", "Make a token for the API: print it once, and the record for the tokens file.");
  t->add_option("NAME", token.name, "Who will have it")->required();
  t->add_option("--scope", token.scope, "What it allows; each also allows the ones before it")
      ->check(CLI::IsMember({"read", "run", "admin"}))
      ->capture_default_str();
  t->add_option("--expires", token.days, "After so many days; none: never")->check(CLI::Range(1, 36500));
  t->callback([&] { action = [&token] { return make_token(token); }; });
  return parse_and_run(program, action, argc, argv);
}
