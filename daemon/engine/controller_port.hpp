// The controller's own serial port: opened and closed to see whether that disturbs it. Nothing is read or written.
//
// Opening a tty raises its DTR line, as any program does that looks at the port; on many boards that line resets the chip. Move-free owner
// of one descriptor; closes it at the end. Errors: bench_missing with the system's words.
#pragma once

#include <string>

#include "daemon/core/result.hpp"

namespace midstick::engine {

class ControllerPort {
 public:
  ControllerPort() = default;
  ~ControllerPort() { close(); }
  ControllerPort(const ControllerPort&) = delete;
  ControllerPort& operator=(const ControllerPort&) = delete;

  Status open(const std::string& device);
  void close();
  bool is_open() const { return descriptor_ >= 0; }

 private:
  int descriptor_{-1};
};

}  // namespace midstick::engine
