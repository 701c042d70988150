#include "daemon/service/log.hpp"

#include <spdlog/sinks/rotating_file_sink.h>
#include <spdlog/sinks/stdout_color_sinks.h>
#include <spdlog/sinks/systemd_sink.h>
#include <spdlog/spdlog.h>

#include <cstdlib>
#include <vector>

namespace midstick::service {

void set_up_log(const Config& config) {
  std::vector<spdlog::sink_ptr> sinks;
  // systemd says so when what is printed goes to its journal; then the journal gets levels and not only text.
  if (std::getenv("JOURNAL_STREAM"))
    sinks.push_back(std::make_shared<spdlog::sinks::systemd_sink_mt>("midstickd"));
  else
    sinks.push_back(std::make_shared<spdlog::sinks::stderr_color_sink_mt>());
  std::string trouble;
  try {
    sinks.push_back(std::make_shared<spdlog::sinks::rotating_file_sink_mt>((config.keep / "logs" / "midstickd.log").string(),
                                                                           config.log.bytes, static_cast<std::size_t>(config.log.files)));
  } catch (const spdlog::spdlog_ex& e) {
    trouble = e.what();
  }
  auto logger = std::make_shared<spdlog::logger>("midstickd", sinks.begin(), sinks.end());
  logger->set_level(spdlog::level::from_str(config.log.level));
  logger->flush_on(spdlog::level::info);
  logger->set_error_handler([](const std::string&) {});  // a full disk must not fill the console too
  spdlog::set_default_logger(logger);
  if (!trouble.empty()) spdlog::warn("no log file: {}", trouble);
}

}  // namespace midstick::service
