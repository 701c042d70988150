// Every faulty build shows its fault at the pins, and the correct build, put through the same, does not.
#include <gtest/gtest.h>

#include <cmath>
#include <functional>
#include <ostream>

#include "tests/controllers/emulated_drive.hpp"

namespace midstick::controllers {
namespace {

/// Puts a controller through something and says whether the fault was seen.
struct Symptom {
  const char* id;
  std::function<bool(EmulatedDrive&)> seen;
  friend std::ostream& operator<<(std::ostream& out, const Symptom& symptom) { return out << symptom.id; }
};

void hold(EmulatedDrive& drive, double throttle_us, double steering_us, std::uint32_t ms = 100) {
  drive.throttle.width_us = throttle_us;
  drive.steering.width_us = steering_us;
  drive.run_ms(ms);
}

bool hold_last(EmulatedDrive& drive) {
  drive.arm();
  hold(drive, 1900, 1500);
  drive.throttle.width_us = drive.steering.width_us = std::nullopt;
  drive.run_ms(1000);
  return drive.last_left() > 1800;
}

bool ignore_steering_loss(EmulatedDrive& drive) {
  drive.arm();
  hold(drive, 1700, 1800);
  drive.steering.width_us = std::nullopt;
  drive.run_ms(1000);
  return drive.last_left() > 1800;
}

bool clip(EmulatedDrive& drive) {
  drive.arm();
  hold(drive, 2000, 1740);
  return drive.last_right() > 1740;  // proportional: 1500 + 500 * (1 - 0.458) / 1.458 = 1686
}

bool lopsided_limit(EmulatedDrive& drive) {
  drive.arm();
  hold(drive, 1000, 1500);
  return drive.last_right() < 995 && drive.last_left() > 999;
}

bool reverse_steering(EmulatedDrive& drive) {
  drive.arm();
  hold(drive, 1300, 1600);
  return drive.last_left() < drive.last_right();
}

bool no_dead_band(EmulatedDrive& drive) {
  drive.arm();
  hold(drive, 1512, 1500);
  return drive.last_left() > 1506;
}

bool neutral_offset(EmulatedDrive& drive) {
  drive.arm();
  return std::abs(drive.last_left() - 1508) < 1 && std::abs(drive.last_right() - 1508) < 1;
}

bool boot_runt(EmulatedDrive& drive) {
  drive.run_ms(30);
  return std::abs(drive.left().front().width_us - 16) < 2;
}

bool no_rearm(EmulatedDrive& drive) {
  drive.arm();
  drive.throttle.width_us = drive.steering.width_us = std::nullopt;
  drive.run_ms(1000);
  hold(drive, 1800, 1500);
  return drive.last_left() > 1700;
}

bool arms_at_boot(EmulatedDrive& drive) {
  hold(drive, 1800, 1500, 300);
  return drive.last_left() > 1700;
}

bool junk_obeyed(EmulatedDrive& drive) {
  drive.throttle.width_us = drive.steering.width_us = std::nullopt;
  drive.run_ms(500);
  hold(drive, 2000, 1500, 60);
  const bool moved = drive.last_left() > 1900;
  drive.throttle.width_us = drive.steering.width_us = std::nullopt;
  drive.run_ms(1000);
  hold(drive, 2000, 1500, 60);
  return moved && drive.last_left() > 1900;
}

bool first_pulses(EmulatedDrive& drive) {
  drive.run_ms(400);
  return std::abs(drive.left()[0].width_us - 1472) < 1 && std::abs(drive.right()[9].width_us - 1472) < 1 &&
         std::abs(drive.left()[10].width_us - 1500) < 1;
}

bool line_left_high(EmulatedDrive& drive) {
  drive.arm();
  drive.throttle.width_us = drive.steering.width_us = std::nullopt;
  drive.run_ms(1000);
  return drive.longest_high() > 5000;  // the emulator as it comes lets go of the pin where the timer wraps
}

bool limits_cut(EmulatedDrive& drive) {
  drive.arm();
  hold(drive, 2150, 1500);
  return std::abs(drive.last_left() - 2128) < 1;
}

bool overflow(EmulatedDrive& drive) {
  drive.arm();
  hold(drive, 1990, 1500);
  return drive.last_left() > 1950 && drive.last_right() < 1100;
}

bool slow_loop(EmulatedDrive& drive) {
  drive.arm();
  int late = 0;
  for (int step = 0; step < 20; ++step) {
    hold(drive, step % 2 ? 1500 : 1700, 1500, 60);
    late += (drive.last_left() > 1600) != (step % 2 == 0);
    drive.run_ms(60);
  }
  return late > 0;
}

bool armed_after_restart(EmulatedDrive& drive) {
  drive.arm();
  hold(drive, 1800, 1500);
  drive.hang_ms(400);
  drive.run_ms(300);
  return drive.last_left() > 1700;
}

bool poisoned_centre(EmulatedDrive& drive) {
  hold(drive, 1580, 1500, 1000);
  hold(drive, 1500, 1500);
  return drive.last_left() < 1450;
}

bool swapped(EmulatedDrive& drive) {
  drive.arm();
  hold(drive, 1700, 1500);
  return drive.last_right() < 1400;
}

bool reversed_left(EmulatedDrive& drive) {
  drive.arm();
  hold(drive, 1700, 1500);
  return drive.last_left() < 1400 && drive.last_right() > 1600;
}

bool endpoint(EmulatedDrive& drive) {
  drive.arm();
  hold(drive, 1900, 1500);
  return drive.last_left() > 1995;
}

bool slow_boot(EmulatedDrive& drive) {
  drive.run_ms(2500);
  const bool silent = drive.left().empty();
  drive.run_ms(200);
  return silent && !drive.left().empty();
}

bool beyond_window(EmulatedDrive& drive) {
  drive.arm();
  hold(drive, 2150, 1500);
  return std::abs(drive.last_left() - 2250) < 1;
}

bool smoothed(EmulatedDrive& drive) {
  drive.arm();
  hold(drive, 1900, 1500, 90);
  const bool under_way = drive.last_left() > 1520 && drive.last_left() < 1800;
  drive.run_ms(200);
  return under_way && drive.last_left() > 1880;
}

bool side_gain(EmulatedDrive& drive) {
  drive.arm();
  hold(drive, 2000, 1500);
  return std::abs(drive.last_right() - 1980) < 1 && drive.last_left() > 1999;
}

/// Both sticks' pulses at once: one of them is waited for only after the other has passed.
bool blocking_read(EmulatedDrive& drive) {
  drive.arm();
  drive.steering_at_us = 0;
  int late = 0;
  for (int step = 0; step < 10; ++step) {
    hold(drive, step % 2 ? 1500 : 1700, 1500, 60);
    late += (drive.last_left() > 1600) != (step % 2 == 0);
    drive.run_ms(100);
  }
  return late > 0;
}

const Symptom kSymptoms[] = {
    {"hold-last", hold_last},
    {"ignore-steering-loss", ignore_steering_loss},
    {"clip", clip},
    {"lopsided-limit", lopsided_limit},
    {"reverse-steering", reverse_steering},
    {"no-dead-band", no_dead_band},
    {"neutral-offset", neutral_offset},
    {"boot-runt", boot_runt},
    {"no-rearm", no_rearm},
    {"arms-at-boot", arms_at_boot},
    {"junk-obeyed", junk_obeyed},
    {"first-pulses", first_pulses},
    {"line-left-high", line_left_high},
    {"limits-cut", limits_cut},
    {"overflow", overflow},
    {"slow-loop", slow_loop},
    {"armed-after-restart", armed_after_restart},
    {"poisoned-centre", poisoned_centre},
    {"swapped", swapped},
    {"reversed-left", reversed_left},
    {"endpoint", endpoint},
    {"slow-boot", slow_boot},
    {"beyond-window", beyond_window},
    {"smoothed", smoothed},
    {"side-gain", side_gain},
    {"blocking-read", blocking_read},
};

class FaultyImage : public testing::TestWithParam<Symptom> {};

TEST_P(FaultyImage, ShowsItsFaultAndTheCorrectOneDoesNot) {
  EmulatedDrive faulty{image_path(GetParam().id)};
  ASSERT_TRUE(faulty.ok()) << image_path(GetParam().id);
  EXPECT_TRUE(GetParam().seen(faulty)) << "left " << faulty.last_left() << ", right " << faulty.last_right();
  EmulatedDrive correct{image_path("correct")};
  ASSERT_TRUE(correct.ok());
  EXPECT_FALSE(GetParam().seen(correct)) << "left " << correct.last_left() << ", right " << correct.last_right();
}

INSTANTIATE_TEST_SUITE_P(Zoo, FaultyImage, testing::ValuesIn(kSymptoms), [](const auto& info) {
  std::string name = info.param.id;
  for (char& c : name)
    if (c == '-') c = '_';
  return name;
});

}  // namespace
}  // namespace midstick::controllers
