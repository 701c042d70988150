// A plain mixer spec for the tests: 1000/1500/2000 us everywhere, no dead band, proportional. Each test overrides a few numbers.
#pragma once

#include "daemon/mixer/model.hpp"

namespace midstick::mixer {

inline MixerSpec plain_spec() {
  MixerSpec spec;
  spec.throttle.name = "throttle";
  spec.steering.name = "steering";
  spec.left.name = "left";
  spec.right.name = "right";
  return spec;
}

inline InputSpec input_with(DeadBandKind kind, double half_us) {
  InputSpec in;
  in.dead_band = kind;
  in.dead_band_half_us = half_us;
  return in;
}

}  // namespace midstick::mixer
