#include "daemon/engine/controller_port.hpp"

#include <fcntl.h>
#include <unistd.h>

#include <cerrno>
#include <cstring>

namespace midstick::engine {

Status ControllerPort::open(const std::string& device) {
  close();
  descriptor_ = ::open(device.c_str(), O_RDWR | O_NOCTTY | O_NONBLOCK | O_CLOEXEC);
  if (descriptor_ >= 0) return Ok{};
  return Error{ErrorKind::bench_missing, "the controller's serial port " + device + " cannot be opened: " + std::strerror(errno)};
}

void ControllerPort::close() {
  if (descriptor_ >= 0) ::close(descriptor_);
  descriptor_ = -1;
}

}  // namespace midstick::engine
