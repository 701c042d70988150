#include "daemon/clock/host_clock.hpp"

#include <sys/timex.h>
#include <time.h>

namespace midstick::clock {
namespace {

std::int64_t read(clockid_t which) {
  timespec t{};
  ::clock_gettime(which, &t);
  return static_cast<std::int64_t>(t.tv_sec) * 1'000'000'000 + t.tv_nsec;
}

}  // namespace

std::int64_t raw_now_ns() { return read(CLOCK_MONOTONIC_RAW); }

HostReading read_host_clocks() {
  const std::int64_t before = read(CLOCK_MONOTONIC_RAW);
  const std::int64_t disciplined = read(CLOCK_MONOTONIC);
  const std::int64_t after = read(CLOCK_MONOTONIC_RAW);
  return {before + (after - before) / 2, disciplined};
}

std::optional<double> disciplined_ppm(const HostReading& first, const HostReading& last) {
  const auto raw = static_cast<double>(last.raw_ns - first.raw_ns);
  if (raw < 1e9) return std::nullopt;
  return (static_cast<double>(last.disciplined_ns - first.disciplined_ns) / raw - 1) * 1e6;
}

const char* name(Synchronised synchronised) {
  constexpr const char* kNames[] = {"no", "yes", "unknown"};
  return kNames[static_cast<int>(synchronised)];
}

Synchronised host_synchronised() {
  timex asked{};  // modes 0: nothing is set
  const int state = ::ntp_adjtime(&asked);
  if (state < 0) return Synchronised::unknown;
  return state == TIME_ERROR || (asked.status & STA_UNSYNC) != 0 ? Synchronised::no : Synchronised::yes;
}

}  // namespace midstick::clock
