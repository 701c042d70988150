// The stages of the mixer spec that remember, for the simulated controller: a hysteresis and a slew, one of each a stick.
#pragma once

#include <algorithm>
#include <cmath>

#include "daemon/mixer/model.hpp"
#include "daemon/mixer/slew.hpp"

namespace midstick::judge_test {

class StickStages {
 public:
  explicit StickStages(const mixer::InputSpec& in) : in_(in), slewed_(in) {}

  /// Position of a pulse's width, `seconds` after the one before.
  double follow(double width_us, double seconds) { return slewed_.advance(mixer::stick(state_of(width_us), width_us), seconds); }
  /// Not driving: at centre at once.
  void rest() { slewed_.jump_to(0), inside_ = true; }

 private:
  mixer::InputSpec state_of(double width_us) {
    if (in_.dead_band != mixer::DeadBandKind::hysteresis) return in_;
    const double off = std::abs(width_us - in_.centre_us), h = in_.dead_band_hysteresis_us;
    inside_ = off < in_.dead_band_half_us + (inside_ ? h : -h);
    mixer::InputSpec now = in_;
    now.dead_band = mixer::DeadBandKind::jump;
    now.dead_band_half_us += inside_ ? h : -h;
    return now;
  }

  mixer::InputSpec in_;
  mixer::SlewedStick slewed_;
  bool inside_{true};
};

}  // namespace midstick::judge_test
