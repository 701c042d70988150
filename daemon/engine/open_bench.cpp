#include "daemon/engine/open_bench.hpp"

#include <cstdio>
#include <filesystem>

#include "daemon/link/serial_port.hpp"
#include "daemon/script/load.hpp"
#include "daemon/store/files.hpp"
#include "fixtures/virtual/bench.hpp"

namespace midstick::engine {
namespace {

constexpr std::string_view kSerial = "serial:";
constexpr std::string_view kVirtual = "virtual:";
constexpr std::string_view kLoopback = "virtual:loopback";
constexpr std::size_t kMaxImage = 8u << 20;

Error bad_address(const std::string& address) {
  return {ErrorKind::usage,
          "bench address \"" + address + "\" is not understood; expected serial:/dev/ttyACM0, virtual:CONTROLLER.json or virtual:loopback"};
}

/// FNV-1a 64 (Fowler, Noll, Vo; constants from memory): names an image in a report, proves nothing.
std::uint64_t fnv1a(const std::string& bytes) {
  std::uint64_t h = 0xcbf29ce484222325u;
  for (const char c : bytes) h = (h ^ static_cast<unsigned char>(c)) * 0x100000001b3u;
  return h;
}

Result<std::string> fingerprint(const std::string& path) {
  auto bytes = store::read_file(path, kMaxImage);
  if (!bytes) return bytes.error();
  char text[17];
  std::snprintf(text, sizeof text, "%016llx", static_cast<unsigned long long>(fnv1a(bytes.value())));
  return std::string(text);
}

Result<OpenBench> open_virtual(const std::string& address, const VirtualConditions& conditions) {
  auto controller = controller_of(address);
  if (!controller) return controller.error();
  OpenBench bench;
  bench.controller = *controller;
  if (bench.controller) {
    auto image = fingerprint(bench.controller->image);
    if (!image) return image.error();
    bench.image_fingerprint = image.take();
  }
  virtual_bench::VirtualBenchOptions options;
  options.controller = bench.controller;
  options.name = address;
  options.seed = conditions.seed;
  options.board_ppm = conditions.board_ppm;
  options.controller_ppm = conditions.controller_ppm;
  options.controller_phase_us = conditions.controller_phase_us;
  auto made = virtual_bench::VirtualBench::make(options);
  if (!made) return made.error();
  if (address == kLoopback) bench.loopback = made->get();
  bench.transport = made.take();
  return bench;
}

}  // namespace

Result<std::optional<script::ControllerDescription>> controller_of(const std::string& address) {
  using Answer = std::optional<script::ControllerDescription>;
  if (address.starts_with(kSerial) && address.size() > kSerial.size()) return Answer{};
  if (address == kLoopback) return Answer{};
  if (!address.starts_with(kVirtual) || address.size() == kVirtual.size()) return bad_address(address);
  auto controller = script::load_controller(address.substr(kVirtual.size()));
  if (!controller) return controller.error();
  return Answer{controller.take()};
}

Result<OpenBench> open_bench(const std::string& address, const VirtualConditions& conditions) {
  if (address.starts_with(kVirtual)) return open_virtual(address, conditions);
  if (!address.starts_with(kSerial) || address.size() == kSerial.size()) return bad_address(address);
  auto port = link::SerialPort::open(address.substr(kSerial.size()));
  if (!port) return port.error();
  return OpenBench{port.take(), std::nullopt, nullptr, ""};
}

}  // namespace midstick::engine
