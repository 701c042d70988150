// A controller image on one emulated chip, with a simple receiver on its inputs and a recorder on its outputs.
//
// Not the virtual bench: no board, no wire, no clock errors, and the emulator as it comes, so that the images are known to run there
// too. Time base: the chip's own cycles, 16 a microsecond, from power-on. Owns the chip; one thread. A missing or unreadable image
// makes ok() false; nothing else fails.
#pragma once

#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "fixtures/virtual/simavr.hpp"

namespace midstick::controllers {

struct Pulse {
  std::uint64_t rise{0};  ///< cycle
  double width_us{0};
};

/// What the receiver does with one channel, frame by frame. No width: no pulse, the line rests at `idle`. With `storm_us` the line
/// toggles that often instead, all through the frame.
struct Channel {
  std::optional<double> width_us{1500};
  bool idle{false};
  double storm_us{0};
};

class EmulatedDrive {
 public:
  /// `ram_seed` fills the RAM before power-on: a program must not care.
  explicit EmulatedDrive(const std::string& image, std::uint32_t ram_seed = 1);
  ~EmulatedDrive();
  EmulatedDrive(const EmulatedDrive&) = delete;
  EmulatedDrive& operator=(const EmulatedDrive&) = delete;

  bool ok() const { return avr_ != nullptr; }

  Channel throttle, steering;
  double frame_us{20000};       ///< receiver's frame; applies from the next frame on
  double steering_at_us{2700};  ///< rise of the steering pulse after the throttle's, less than the frame

  /// Run for so long and record. Input frames go on where they were.
  void run_ms(std::uint32_t ms);
  /// Sticks at neutral for a second: armed after this.
  void arm();
  /// The next throttle pulse rises at this cycle, not before the frame that is planned already.
  void next_rise_at(std::uint64_t cycle) { next_frame_ = cycle; }
  /// Forget what was recorded and run.
  void watch_ms(std::uint32_t ms);
  /// The main program hangs, with interrupts still served, until the watchdog bites or `limit_ms` have passed. Returns how long.
  double hang_ms(std::uint32_t limit_ms);

  const std::vector<Pulse>& left() const { return pulses_[0]; }
  const std::vector<Pulse>& right() const { return pulses_[1]; }
  /// Outputs of the last whole pulses, us; 0 when there was none.
  double last_left() const { return left().empty() ? 0 : left().back().width_us; }
  double last_right() const { return right().empty() ? 0 : right().back().width_us; }
  /// Longest high of either output so far recorded, or still going on, us.
  double longest_high() const;
  std::uint64_t cycle() const { return avr_->cycle; }

 private:
  static void on_output(avr_irq_t* irq, std::uint32_t value, void* self);
  static avr_cycle_count_t on_due(avr_t* avr, avr_cycle_count_t when, void* self);
  void plan_frame(std::uint64_t start);
  void drive(int input, bool level);

  avr_t* avr_{nullptr};
  std::multimap<std::uint64_t, std::pair<int, bool>> edges_;  ///< planned: cycle -> input, level
  std::uint64_t next_frame_{0};
  std::vector<Pulse> pulses_[2];
  bool high_[2]{};
  std::uint64_t rise_[2]{};
};

/// Path of drive-<id>.elf.
std::string image_path(const std::string& id);

}  // namespace midstick::controllers
