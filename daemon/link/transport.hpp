// The byte pipe to a bench board, and the clock that goes with it. The one seam between the engine and the outside world.
//
// Two drivers: link/serial_port (Boost.Asio over libserialport, the host's raw clock) and fixtures/virtual (in-process emulated bench,
// virtual time: read() runs the emulation, nothing sleeps). Single-threaded: one caller, no callbacks. Errors are values; after an error
// the transport is dead (unplugged) and every later call returns an error too.
#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>
#include <string>

#include "daemon/clock/host_clock.hpp"
#include "daemon/core/result.hpp"
#include "daemon/core/time.hpp"

namespace midstick::link {

class Transport {
 public:
  virtual ~Transport() = default;

  /// Host time now, ns, steady: of a real port the raw clock, which nothing speeds up or slows down.
  virtual HostTime now() const = 0;
  /// now() and the disciplined clock at the same instant; nothing where time is virtual.
  virtual std::optional<clock::HostReading> host_clocks() const { return std::nullopt; }
  /// Hand bytes to the wire. Error{bench_missing} when the port is gone.
  virtual Status write(std::span<const std::uint8_t> bytes) = 0;
  /// Wait until bytes arrive or `deadline` passes. Returns how many were stored (0: deadline). Error{bench_missing} when the port is gone.
  virtual Result<std::size_t> read(std::span<std::uint8_t> into, HostTime deadline) = 0;
  /// "serial:/dev/ttyACM0", "virtual:controller.json".
  virtual std::string address() const = 0;
};

}  // namespace midstick::link
