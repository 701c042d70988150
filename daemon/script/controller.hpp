// The controller under test, as its description file says: which chip, which pins, which bench lines they are wired to.
//
// Plain values; owner is whoever loaded the file. `image` is only used by the virtual bench and is an absolute path after
// loading (the file gives it relative to itself). Line numbers are bench lines: inputs S1..S6 = 0..5; outputs R1,R2 = 0,1
// (input capture), P1..P6 = 2..7 (pin change).
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

namespace midstick::script {

struct ControllerPin {
  std::string name;  ///< "throttle", "left"; the name the mixer spec uses
  std::string line;  ///< as printed on the bench: "S1", "R2", "P3"
  std::uint8_t line_no{0};
  char port{0};  ///< 'B' for PB1; virtual bench only, 0 when not given
  std::uint8_t bit{0};
};

/// A relay on a spare stimulus line: switched while the line is high.
struct Relay {
  std::string name;
  std::string line;  ///< "S6"
  std::uint8_t line_no{0};
};

struct ControllerDescription {
  std::string name;
  std::string image;  ///< ELF, absolute; empty for a real controller only
  std::string chip;   ///< as the emulator names it, "atmega328p"; empty likewise
  std::uint32_t clock_hz{16'000'000};
  std::uint32_t boot_ms{0};            ///< boot loader delay before the program starts, ms (0 on the virtual bench)
  std::vector<ControllerPin> inputs;   ///< at most 6
  std::vector<ControllerPin> outputs;  ///< at most 8
  std::vector<Relay> relays;           ///< names and lines differ from those of the inputs
  std::string serial;                  ///< device of the controller's own serial port; empty: none

  const ControllerPin* input(const std::string& name) const {
    for (const auto& p : inputs)
      if (p.name == name) return &p;
    return nullptr;
  }
  const Relay* relay(const std::string& name) const {
    for (const auto& r : relays)
      if (r.name == name) return &r;
    return nullptr;
  }
  const ControllerPin* output(const std::string& name) const {
    for (const auto& p : outputs)
      if (p.name == name) return &p;
    return nullptr;
  }
};

}  // namespace midstick::script
