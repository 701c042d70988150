// The wires of a calibration, which a person or the virtual bench moves. No controller takes part.
//
// Each call returns when the wires are as asked, the outputs being low meanwhile. Errors: stopped when the person gives up; as the virtual
// bench gives them.
#pragma once

#include <cstdint>
#include <functional>
#include <string>

#include "daemon/core/result.hpp"
#include "daemon/core/time.hpp"
#include "fixtures/virtual/bench.hpp"

namespace midstick::calibrate {

class Jumpers {
 public:
  virtual ~Jumpers() = default;
  /// Stimulus line (0..5) to all eight capture lines, nothing else.
  virtual Status loop(std::uint8_t stimulus_line) = 0;
  /// A source of servo pulses with a clock of its own, which none of the board's is, to all eight capture lines; it must run for `length`.
  /// False: there is none.
  virtual Result<bool> pulse_source(HostSpan length) = 0;
};

/// Prompts a person and waits for the word. `ask` shows a text and gives false when the person says stop.
class HandJumpers final : public Jumpers {
 public:
  HandJumpers(std::function<bool(const std::string&)> ask, bool has_source) : ask_(std::move(ask)), has_source_(has_source) {}
  Status loop(std::uint8_t stimulus_line) override;
  Result<bool> pulse_source(HostSpan length) override;

 private:
  std::function<bool(const std::string&)> ask_;
  bool has_source_;
  bool warned_{false};
};

/// On the virtual bench without controller. The source's pulses come at any picosecond; `seed` chooses them.
class VirtualJumpers final : public Jumpers {
 public:
  VirtualJumpers(virtual_bench::VirtualBench& bench, std::uint64_t seed, bool has_source = true)
      : bench_(bench), seed_(seed), has_source_(has_source) {}
  Status loop(std::uint8_t stimulus_line) override;
  Result<bool> pulse_source(HostSpan length) override;

 private:
  virtual_bench::VirtualBench& bench_;
  std::uint64_t seed_;
  bool has_source_;
};

}  // namespace midstick::calibrate
