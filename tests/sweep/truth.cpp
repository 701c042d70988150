#include "tests/sweep/truth.hpp"

#include <cmath>

#include "fixtures/controllers/blend/mixer.hpp"
#include "fixtures/controllers/common/mixer.hpp"
#include "fixtures/controllers/drive/mixer.hpp"

namespace midstick::sweep::test {
namespace {

constexpr double kTick = 0.5;
std::uint16_t ticks(double us) { return static_cast<std::uint16_t>(std::lround(us / kTick)); }

/// drive and reverse: mix and map are the same code.
Truth of_drive() {
  using namespace drive;
  Truth t{kCentre * kTick,
          (kCentre - kTravel) * kTick,
          (kCentre + kTravel) * kTick,
          kDeadBand * kTick,
          kDeadBand * kTick,
          false,
          kNeutralPulse * kTick,
          kLowest * kTick,
          kHighest * kTick,
          {}};
  t.output = [](double throttle, double steering, bool left) {
    const Tracks tracks = mixed(with_dead_band(normalised(ticks(throttle))), with_dead_band(normalised(ticks(steering))));
    return pulse(left ? tracks.left : tracks.right, kLowest, kHighest) * kTick;
  };
  return t;
}

/// capture, pinchange and fast.
Truth of_common() {
  using namespace common;
  Truth t{kCentre * kTick, kLowest * kTick,       kHighest * kTick, kDeadBand * kTick, kDeadBand * kTick,
          false,           kNeutralPulse * kTick, kLowest * kTick,  kHighest * kTick,  {}};
  t.output = [](double throttle, double steering, bool left) {
    const Tracks tracks = driven(ticks(throttle), ticks(steering));
    return pulse(left ? tracks.left : tracks.right) * kTick;
  };
  return t;
}

Truth of_blend() {
  using namespace blend;
  Truth t{drive::kCentre * kTick,
          (drive::kCentre - drive::kFull) * kTick,
          (drive::kCentre + drive::kFull) * kTick,
          (kBand + kHysteresis) * kTick,
          (kBand - kHysteresis) * kTick,
          true,
          kNeutralPulse * kTick,
          pulse(-kOne) * kTick,
          pulse(kOne - 1) * kTick,
          {}};
  t.output = [](double throttle, double steering, bool left) {
    const auto stick = [](double us, Fraction rate) {
      const auto off = static_cast<std::int16_t>(ticks(us) - drive::kCentre);
      return magnitude(off) < kBand ? Fraction{0} : shaped(off, rate);
    };
    const Tracks tracks = mixed(stick(throttle, kThrottleRate), stick(steering, kSteeringRate));
    return pulse(left ? tracks.left : tracks.right) * kTick;
  };
  return t;
}

}  // namespace

Truth truth_of(const std::string& style) {
  return style == "blend" ? of_blend() : style == "drive" || style == "reverse" ? of_drive() : of_common();
}

}  // namespace midstick::sweep::test
