#include "daemon/cli/stop_signal.hpp"

#include <signal.h>

namespace midstick::cli {
namespace {

std::atomic<bool> stop_requested{false};
static_assert(std::atomic<bool>::is_always_lock_free, "the signal handler needs it");

}  // namespace

const std::atomic<bool>& stop_on_signal() {
  struct sigaction action {};
  action.sa_handler = [](int) { stop_requested.store(true); };
  sigaction(SIGINT, &action, nullptr);
  sigaction(SIGTERM, &action, nullptr);
  sigaction(SIGHUP, &action, nullptr);
  return stop_requested;
}

}  // namespace midstick::cli
