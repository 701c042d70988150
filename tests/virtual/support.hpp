// Shared by the virtual bench's tests: options for the tiny test images and ways to read and write the bench.
#pragma once

#include <gtest/gtest.h>

#include <algorithm>
#include <string>
#include <string_view>
#include <vector>

#include "fixtures/virtual/bench.hpp"

namespace midstick::virtual_bench {

inline std::string image(const char* name) { return std::string(TEST_IMAGES "/") + name + ".elf"; }

/// A board with one of the test programs in it and no controller.
inline VirtualBenchOptions board_only(const char* board) {
  VirtualBenchOptions options;
  options.board_image = image(board);
  return options;
}

/// The same with an ATmega328P: S1, S2 on PD2, PD3; R1, R2, P1 on PB1, PB2, PD7.
inline VirtualBenchOptions with_controller(const char* board, const char* controller) {
  VirtualBenchOptions options = board_only(board);
  script::ControllerDescription description;
  description.name = controller;
  description.image = image(controller);
  description.chip = "atmega328p";
  description.inputs = {{"throttle", "S1", 0, 'D', 2}, {"steering", "S2", 1, 'D', 3}};
  description.outputs = {{"left", "R1", 0, 'B', 1}, {"right", "R2", 1, 'B', 2}, {"flag", "P1", 2, 'D', 7}};
  options.controller = description;
  return options;
}

inline std::unique_ptr<VirtualBench> make_bench(const VirtualBenchOptions& options) {
  auto bench = VirtualBench::make(options);
  if (!bench) {
    ADD_FAILURE() << bench.error().message;
    std::abort();
  }
  return bench.take();
}

inline Status send(VirtualBench& bench, std::string_view text) {
  return bench.write({reinterpret_cast<const std::uint8_t*>(text.data()), text.size()});
}

/// Read until `count` bytes are there, the deadline passes or the port dies.
inline std::string receive(VirtualBench& bench, std::size_t count, HostSpan patience = host_ms(200)) {
  std::string got;
  const HostTime deadline = bench.now() + patience;
  std::uint8_t buffer[256];
  while (got.size() < count && bench.now() < deadline) {
    const auto some = bench.read({buffer, std::min(sizeof buffer, count - got.size())}, deadline);
    if (!some) break;
    got.append(reinterpret_cast<const char*>(buffer), *some);
  }
  return got;
}

/// The record's edges of one wire and line.
inline TruthRecord edges_of(const TruthRecord& truth, Wire wire, std::uint8_t line = 0) {
  TruthRecord some;
  std::copy_if(truth.begin(), truth.end(), std::back_inserter(some),
               [&](const TrueEdge& edge) { return edge.wire == wire && edge.line == line; });
  return some;
}

}  // namespace midstick::virtual_bench
