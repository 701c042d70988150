// A bench board behind a serial port (500 kbaud, 8N1, no flow control) or a pseudo-terminal that stands in for one.
//
// libserialport opens and lists; Boost.Asio waits, on a single-threaded io_context inside. Host time is the steady clock. Opening the port
// of a common development board raises DTR and so resets it: its boot loader then waits 1 to 2 s before the board answers (Link keeps
// asking for 4 s). Owns the port, exclusively. Errors: bench_missing when the port cannot be opened or goes away; after that every call
// repeats it.
#pragma once

#include <memory>
#include <string>
#include <vector>

#include "daemon/link/transport.hpp"

namespace midstick::link {

class SerialPort final : public Transport {
 public:
  static constexpr int kBaud = 500'000;

  /// `path`: "/dev/ttyACM0", a link to it such as "/dev/serial/by-id/...", or "/dev/pts/3".
  static Result<std::unique_ptr<SerialPort>> open(const std::string& path);
  ~SerialPort() override;

  HostTime now() const override;
  std::optional<clock::HostReading> host_clocks() const override;
  Status write(std::span<const std::uint8_t> bytes) override;
  Result<std::size_t> read(std::span<std::uint8_t> into, HostTime deadline) override;
  std::string address() const override { return "serial:" + path_; }

 private:
  class Device;
  SerialPort(std::string path, std::unique_ptr<Device> device);
  Error gone(const std::string& why);

  std::string path_;
  std::unique_ptr<Device> device_;  // empty once the port is gone
  std::string why_gone_;
};

/// A serial port of this machine, named so that it can be found again whatever order things are plugged in.
struct PortName {
  std::string path;         ///< "/dev/ttyACM0"
  std::string description;  ///< as the device says
  std::string identity;     ///< "usb:2341:0042:SERIAL"; empty when it has none
};

/// All serial ports, by path.
std::vector<PortName> list_ports();

}  // namespace midstick::link
