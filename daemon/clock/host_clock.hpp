// The computer's own two steady clocks: the raw one, that times every exchange, and the one that time synchronisation speeds up and slows
// down.
//
// The raw one ticks as its quartz does, so a fit over it sees no correction come and go. How the other compares says how far off the quartz
// is, but only while the computer is synchronised to something. Linux; reads clocks, sets nothing; unknown where the kernel does not say.
// ns.
#pragma once

#include <cstdint>
#include <optional>

namespace midstick::clock {

/// Both clocks at the same instant, to within some microseconds.
struct HostReading {
  std::int64_t raw_ns{0};          ///< CLOCK_MONOTONIC_RAW
  std::int64_t disciplined_ns{0};  ///< CLOCK_MONOTONIC
};
HostReading read_host_clocks();

/// CLOCK_MONOTONIC_RAW alone.
std::int64_t raw_now_ns();

/// Relative rate, ppm; > 0: the disciplined clock ran faster than the raw one. Nothing for less than a second between the two readings.
std::optional<double> disciplined_ppm(const HostReading& first, const HostReading& last);

enum class Synchronised { no, yes, unknown };
/// "no"
const char* name(Synchronised synchronised);
/// What the kernel says (ntp_adjtime: unsynchronised flag, and clock state "error").
Synchronised host_synchronised();

/// What a run says about the clock of its host.
struct HostClock {
  bool is_virtual{true};  ///< an emulated bench: the host's time is the true time by definition, and the rest says nothing
  Synchronised synchronised{Synchronised::unknown};
  std::optional<double> disciplined_ppm;
};

}  // namespace midstick::clock
