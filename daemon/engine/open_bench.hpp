// From a bench address to an open byte pipe.
//
//   serial:/dev/ttyACM0        a bench board on a serial port
//   virtual:CONTROLLER.json    the virtual bench with that controller, in process, in virtual time
//   virtual:loopback           the same without a controller, its lines free for calibration
// Opening powers nothing and makes no pulse. Errors: usage for an address of another form, bad_file for a bad description, bench_missing
// when the port is not there.
#pragma once

#include <cstdint>
#include <memory>
#include <optional>
#include <string>

#include "daemon/core/result.hpp"
#include "daemon/link/transport.hpp"
#include "daemon/script/controller.hpp"

namespace midstick::virtual_bench {
class VirtualBench;
}

namespace midstick::engine {

/// Imperfections to give the virtual bench; nothing here applies to a real one.
struct VirtualConditions {
  double board_ppm{0};            ///< clock error of the bench board, -10000..10000
  double controller_ppm{0};       ///< clock error of the controller, -60000..60000
  double controller_phase_us{0};  ///< the controller starts this much after the relay closes
  std::uint64_t seed{1};          ///< of memory contents at power-on and of serial faults
};

struct OpenBench {
  std::unique_ptr<link::Transport> transport;
  std::optional<script::ControllerDescription> controller;  ///< of a virtual bench; replaces the plan's
  virtual_bench::VirtualBench* loopback{nullptr};           ///< the transport, where the address is virtual:loopback
  std::string image_fingerprint;                            ///< FNV-1a 64 of board and controller image, hex; empty on a real bench
};

Result<OpenBench> open_bench(const std::string& address, const VirtualConditions& conditions);

/// The controller an address names, without opening anything; nothing for a serial bench or a loopback.
Result<std::optional<script::ControllerDescription>> controller_of(const std::string& address);

}  // namespace midstick::engine
