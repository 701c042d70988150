#include "tests/controllers/emulated_drive.hpp"

#include <algorithm>
#include <cstdlib>
#include <cstring>
#include <random>

#include "fixtures/virtual/avr_core.hpp"

extern "C" {
#include <simavr/sim_elf.h>
}

namespace midstick::controllers {
namespace {

constexpr std::uint64_t kCyclesPerUs = 16;
constexpr int kInputPins[] = {2, 3};   // PD2 throttle, PD3 steering
constexpr int kOutputPins[] = {1, 2};  // PB1 left, PB2 right

std::uint64_t cycles(double us) { return static_cast<std::uint64_t>(us * kCyclesPerUs + 0.5); }

}  // namespace

std::string image_path(const std::string& id) { return std::string(MIDSTICK_IMAGES) + "/drive-" + id + ".elf"; }

EmulatedDrive::EmulatedDrive(const std::string& image, std::uint32_t ram_seed) {
  virtual_bench::mute_simavr();
  elf_firmware_t firmware{};
  if (elf_read_firmware(image.c_str(), &firmware) != 0) return;
  avr_ = avr_make_mcu_by_name("atmega328p");
  if (!avr_) return;
  avr_init(avr_);
  avr_->log = LOG_NONE;
  avr_->frequency = 16'000'000;
  avr_->sleep = [](avr_t*, avr_cycle_count_t) {};
  std::strcpy(firmware.mmcu, "atmega328p");
  firmware.frequency = 16'000'000;
  avr_load_firmware(avr_, &firmware);
  std::free(firmware.flash);
  std::mt19937 random{ram_seed};
  for (std::uint32_t at = avr_->ioend + 1u; at <= avr_->ramend; ++at) avr_->data[at] = static_cast<std::uint8_t>(random());
  for (int pin : kOutputPins) avr_irq_register_notify(avr_io_getirq(avr_, AVR_IOCTL_IOPORT_GETIRQ('B'), pin), on_output, this);
  avr_cycle_timer_register(avr_, 1, on_due, this);
}

EmulatedDrive::~EmulatedDrive() { virtual_bench::AvrDeleter{}(avr_); }

void EmulatedDrive::run_ms(std::uint32_t ms) {
  const std::uint64_t end = avr_->cycle + cycles(ms * 1e3);
  while (avr_->cycle < end && avr_->state != cpu_Crashed && avr_->state != cpu_Done) avr_run(avr_);
}

double EmulatedDrive::longest_high() const {
  double longest = 0;
  for (int output : {0, 1}) {
    for (const Pulse& pulse : pulses_[output]) longest = std::max(longest, pulse.width_us);
    if (high_[output]) longest = std::max(longest, static_cast<double>(avr_->cycle - rise_[output]) / kCyclesPerUs);
  }
  return longest;
}

void EmulatedDrive::arm() {
  throttle = steering = Channel{};
  run_ms(1000);
}

void EmulatedDrive::watch_ms(std::uint32_t ms) {
  pulses_[0].clear();
  pulses_[1].clear();
  run_ms(ms);
}

double EmulatedDrive::hang_ms(std::uint32_t limit_ms) {
  // rjmp .-2 where the program is about to go on; interrupts return to it.
  const std::uint64_t begin = avr_->cycle;
  std::uint8_t* here = avr_->flash + avr_->pc;
  const std::uint8_t original[] = {here[0], here[1]};
  here[0] = 0xFF;
  here[1] = 0xCF;
  while (avr_->cycle < begin + cycles(limit_ms * 1e3) && !avr_regbit_get(avr_, avr_->reset_flags.wdrf)) avr_run(avr_);
  here[0] = original[0];
  here[1] = original[1];
  avr_cycle_timer_register(avr_, 1, on_due, this);  // the emulator's reset forgets the receiver's timer
  return static_cast<double>(avr_->cycle - begin) / kCyclesPerUs / 1e3;
}

void EmulatedDrive::on_output(avr_irq_t* irq, std::uint32_t value, void* at) {
  auto& self = *static_cast<EmulatedDrive*>(at);
  const int output = static_cast<int>(irq->irq) == kOutputPins[0] ? 0 : 1;
  const bool level = value & 1;
  if (level == self.high_[output]) return;
  self.high_[output] = level;
  const std::uint64_t now = self.avr_->cycle;
  if (level)
    self.rise_[output] = now;
  else
    self.pulses_[output].push_back({self.rise_[output], static_cast<double>(now - self.rise_[output]) / kCyclesPerUs});
}

avr_cycle_count_t EmulatedDrive::on_due(avr_t* avr, avr_cycle_count_t when, void* at) {
  auto& self = *static_cast<EmulatedDrive*>(at);
  while (!self.edges_.empty() && self.edges_.begin()->first <= avr->cycle) {
    const auto edge = self.edges_.begin()->second;
    self.edges_.erase(self.edges_.begin());
    self.drive(edge.first, edge.second);
  }
  if (self.next_frame_ <= avr->cycle) {
    self.plan_frame(self.next_frame_ + kCyclesPerUs);
    self.next_frame_ += cycles(self.frame_us);
  }
  const std::uint64_t next = self.edges_.empty() ? self.next_frame_ : std::min(self.next_frame_, self.edges_.begin()->first);
  return std::max(next, when + 1);
}

void EmulatedDrive::plan_frame(std::uint64_t start) {
  const Channel* channels[] = {&throttle, &steering};
  const std::uint64_t at[] = {start, start + cycles(steering_at_us)};
  for (int i = 0; i < 2; ++i) {
    if (channels[i]->storm_us > 0) {
      bool level = false;
      for (double t = 0; t < frame_us; t += channels[i]->storm_us) edges_.insert({start + cycles(t), {i, level = !level}});
      continue;
    }
    if (!channels[i]->width_us) {
      edges_.insert({at[i], {i, channels[i]->idle}});
      continue;
    }
    edges_.insert({at[i], {i, true}});
    edges_.insert({at[i] + cycles(*channels[i]->width_us), {i, false}});
  }
}

void EmulatedDrive::drive(int input, bool level) {
  avr_raise_irq(avr_io_getirq(avr_, AVR_IOCTL_IOPORT_GETIRQ('D'), kInputPins[input]), level);
}

}  // namespace midstick::controllers
