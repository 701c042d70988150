#include "daemon/link/serial_port.hpp"

#include <fcntl.h>
#include <libserialport.h>
#include <sys/ioctl.h>
#include <termios.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <boost/asio/io_context.hpp>
#include <boost/asio/posix/stream_descriptor.hpp>
#include <boost/asio/steady_timer.hpp>
#include <cerrno>
#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <cstring>

namespace midstick::link {
namespace {

namespace asio = boost::asio;
using Clock = std::chrono::steady_clock;

constexpr std::chrono::seconds kWritePatience{1};
constexpr std::chrono::hours kLongestWait{1};  // a deadline "never" must not overflow the clock

Error cannot_open(const std::string& path, const std::string& why) {
  return {ErrorKind::bench_missing, "cannot open serial port " + path + ": " + why};
}

std::string last_error() {
  char* text = sp_last_error_message();
  const std::string message = text && *text ? text : "unknown error";
  sp_free_error_message(text);
  return message;
}

/// Set up a port libserialport has opened. Empty when all went well.
std::string configure(sp_port* port) {
  if (sp_set_baudrate(port, SerialPort::kBaud) != SP_OK) return "500000 baud not possible: " + last_error();
  if (sp_set_bits(port, 8) != SP_OK || sp_set_parity(port, SP_PARITY_NONE) != SP_OK || sp_set_stopbits(port, 1) != SP_OK ||
      sp_set_flowcontrol(port, SP_FLOWCONTROL_NONE) != SP_OK)
    return "8N1 without flow control not possible: " + last_error();
  sp_flush(port, SP_BUF_BOTH);
  return {};
}

std::string real_path(const std::string& path) {
  char* resolved = ::realpath(path.c_str(), nullptr);
  if (!resolved) return path;
  std::string text = resolved;
  std::free(resolved);
  return text;
}

/// libserialport does not know pseudo-terminals. They have no baud rate, so none is set; all else is as on a real port.
int open_pseudo_terminal(const std::string& path) {
  const int fd = ::open(path.c_str(), O_RDWR | O_NOCTTY | O_NONBLOCK | O_CLOEXEC);
  termios settings{};
  if (fd < 0) return -1;
  if (::tcgetattr(fd, &settings) == 0) {
    ::cfmakeraw(&settings);
    if (::tcsetattr(fd, TCSANOW, &settings) == 0 && ::ioctl(fd, TIOCEXCL) == 0) {
      ::tcflush(fd, TCIOFLUSH);
      return fd;
    }
  }
  const int why = errno;
  ::close(fd);
  errno = why;
  return -1;
}

}  // namespace

/// The open descriptor and what waits on it.
class SerialPort::Device {
 public:
  /// Owns `fd` if `port` is null, else the port, whose descriptor it is.
  Device(sp_port* port, int fd) : port_(port), timer_(io_), stream_(io_, fd) { stream_.non_blocking(true); }
  Device(const Device&) = delete;
  Device& operator=(const Device&) = delete;
  ~Device() {
    if (!port_) return;
    stream_.release();
    sp_close(port_);
    sp_free_port(port_);
  }

  /// Wait until the descriptor is ready; false at the deadline.
  bool wait(asio::posix::stream_descriptor::wait_type what, Clock::time_point deadline) {
    bool ready = false;
    stream_.async_wait(what, [&](const boost::system::error_code& error) {
      if (error == asio::error::operation_aborted) return;
      ready = true;
      timer_.cancel();
    });
    timer_.expires_at(deadline);
    timer_.async_wait([&](const boost::system::error_code& error) {
      if (!error) stream_.cancel();
    });
    io_.restart();
    io_.run();
    return ready;
  }
  asio::posix::stream_descriptor& stream() { return stream_; }

 private:
  sp_port* port_;
  asio::io_context io_{1};
  asio::steady_timer timer_;
  asio::posix::stream_descriptor stream_;
};

SerialPort::SerialPort(std::string path, std::unique_ptr<Device> device) : path_(std::move(path)), device_(std::move(device)) {}
SerialPort::~SerialPort() = default;

Result<std::unique_ptr<SerialPort>> SerialPort::open(const std::string& path) {
  const std::string real = real_path(path);
  if (real.starts_with("/dev/pts/")) {
    const int fd = open_pseudo_terminal(real);
    if (fd < 0) return cannot_open(path, std::strerror(errno));
    return std::unique_ptr<SerialPort>(new SerialPort(path, std::make_unique<Device>(nullptr, fd)));
  }
  sp_port* port = nullptr;
  if (sp_get_port_by_name(real.c_str(), &port) != SP_OK) return cannot_open(path, "no such serial port");
  if (sp_open(port, SP_MODE_READ_WRITE) != SP_OK) {
    const std::string why = last_error();
    sp_free_port(port);
    return cannot_open(path, why);
  }
  const std::string why = configure(port);
  int fd = -1;
  // Whoever opened it as well would reset the board in the middle of a run.
  if (!why.empty() || sp_get_port_handle(port, &fd) != SP_OK || ::ioctl(fd, TIOCEXCL) != 0) {
    sp_close(port);
    sp_free_port(port);
    return cannot_open(path, why.empty() ? "it cannot be had for this program alone" : why);
  }
  return std::unique_ptr<SerialPort>(new SerialPort(path, std::make_unique<Device>(port, fd)));
}

HostTime SerialPort::now() const { return {clock::raw_now_ns()}; }
std::optional<clock::HostReading> SerialPort::host_clocks() const { return clock::read_host_clocks(); }

Status SerialPort::write(std::span<const std::uint8_t> bytes) {
  if (!device_) return gone(why_gone_);
  while (!bytes.empty()) {
    boost::system::error_code error;
    const std::size_t put = device_->stream().write_some(asio::buffer(bytes.data(), bytes.size()), error);
    bytes = bytes.subspan(put);
    if (!error) continue;
    if (error != asio::error::would_block && error != asio::error::interrupted) return gone(error.message());
    if (!device_->wait(asio::posix::stream_descriptor::wait_write, Clock::now() + kWritePatience)) return gone("it takes no bytes");
  }
  return Ok{};
}

Result<std::size_t> SerialPort::read(std::span<std::uint8_t> into, HostTime deadline) {
  if (!device_) return gone(why_gone_);
  // No timer waits by the raw clock. Over a wait the two differ by nothing that matters.
  const auto wait = std::clamp<std::chrono::nanoseconds>(std::chrono::nanoseconds((deadline - now()).count), {}, kLongestWait);
  const Clock::time_point until = Clock::now() + wait;
  if (!device_->wait(asio::posix::stream_descriptor::wait_read, until)) return std::size_t{0};
  boost::system::error_code error;
  const std::size_t got = device_->stream().read_some(asio::buffer(into.data(), into.size()), error);
  // Ready, and yet no byte: the device has been unplugged.
  if (error == asio::error::would_block || error == asio::error::interrupted) return std::size_t{0};
  if (error || got == 0) return gone(error.message());
  return got;
}

Error SerialPort::gone(const std::string& why) {
  device_.reset();
  why_gone_ = why;
  return {ErrorKind::bench_missing, "serial port " + path_ + " is gone (" + why + ")"};
}

std::vector<PortName> list_ports() {
  std::vector<PortName> names;
  sp_port** ports = nullptr;
  if (sp_list_ports(&ports) != SP_OK) return names;
  const auto text = [](const char* value) { return std::string(value ? value : ""); };
  for (sp_port** port = ports; *port; ++port) {
    PortName name{text(sp_get_port_name(*port)), text(sp_get_port_description(*port)), {}};
    int vendor = 0, product = 0;
    if (sp_get_port_usb_vid_pid(*port, &vendor, &product) == SP_OK) {
      std::array<char, 32> head{};
      std::snprintf(head.data(), head.size(), "usb:%04x:%04x:", vendor & 0xFFFF, product & 0xFFFF);
      name.identity = head.data() + text(sp_get_port_usb_serial(*port));
    }
    names.push_back(std::move(name));
  }
  sp_free_port_list(ports);
  std::sort(names.begin(), names.end(), [](const PortName& a, const PortName& b) { return a.path < b.path; });
  return names;
}

}  // namespace midstick::link
