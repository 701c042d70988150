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

const Symptom kSymptoms[] = {
    {"hold-last", hold_last},
    {"ignore-steering-loss", ignore_steering_loss},
    {"clip", clip},
    {"lopsided-limit", lopsided_limit},
    {"reverse-steering", reverse_steering},
    {"no-dead-band", no_dead_band},
    {"neutral-offset", neutral_offset},
    {"boot-runt", boot_runt},
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
