#include "daemon/engine/when_where.hpp"

#include <unistd.h>

#include <chrono>
#include <ctime>

namespace midstick::engine {

std::string utc_now(bool compact) {
  const std::time_t now = std::chrono::system_clock::to_time_t(std::chrono::system_clock::now());
  std::tm parts{};
  ::gmtime_r(&now, &parts);
  char text[32];
  std::strftime(text, sizeof text, compact ? "%Y%m%dT%H%M%SZ" : "%Y-%m-%dT%H:%M:%SZ", &parts);
  return text;
}

std::string host_name() {
  char name[256] = "";
  ::gethostname(name, sizeof name - 1);
  return name;
}

}  // namespace midstick::engine
