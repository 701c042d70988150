// Random specs and sticks for property tests. RapidCheck prints the seed (RC_PARAMS="seed=...") and the shrunk case.
#pragma once

#include <rapidcheck/gtest.h>

#include "daemon/mixer/model.hpp"

namespace midstick::mixer {

/// Value in [low, high] in steps of 1/1000 of the range.
inline double between(double low, double high) { return low + (high - low) * *rc::gen::inRange(0, 1001) / 1000.0; }

inline InputSpec any_input() {
  InputSpec in;
  in.low_us = between(900, 1200);
  in.centre_us = between(1450, 1550);
  in.high_us = between(1800, 2100);
  in.reversed = *rc::gen::arbitrary<bool>();
  in.dead_band = *rc::gen::element(DeadBandKind::none, DeadBandKind::jump, DeadBandKind::continuous, DeadBandKind::curve,
                                   DeadBandKind::soft, DeadBandKind::hysteresis);
  in.dead_band_half_us = between(0, 60);
  in.dead_band_hysteresis_us = between(0, 10);
  in.dead_band_softness = between(0.01, 1);
  in.square = *rc::gen::arbitrary<bool>();
  in.expo = between(0, 1);
  in.rate = between(0, 1);
  return in;
}

inline OutputSpec any_output() {
  OutputSpec out;
  out.low_us = between(1000, 1200);
  out.neutral_us = between(1450, 1550);
  out.high_us = between(1800, 2000);
  out.reversed = *rc::gen::arbitrary<bool>();
  out.reverse_limit = between(0, 1);
  out.start_offset = *rc::gen::element(0.0, 0.04, 0.2);
  out.trim_us = between(-20, 20);
  out.clamp_low_us = between(1000, 1100);
  out.clamp_high_us = between(1900, 2000);
  return out;
}

/// Laws that treat the two sides as mirror images by themselves.
inline Law any_mirrored_law() {
  return *rc::gen::element(Law::clip, Law::proportional, Law::throttle_priority, Law::steering_priority, Law::blend, Law::halved,
                           Law::inner_wheel, Law::curvature, Law::elevon, Law::v_tail);
}

inline Table any_table() {
  Table table;
  const auto axis = [] {
    std::vector<double> positions{-1};
    while (positions.back() < 1) positions.push_back(std::min(1.0, positions.back() + between(0.2, 0.9)));
    return positions;
  };
  table.throttle = axis(), table.steering = axis();
  for (auto* side : {&table.left, &table.right})
    for (std::size_t t = 0; t < table.throttle.size(); ++t) {
      side->emplace_back();
      for (std::size_t s = 0; s < table.steering.size(); ++s) side->back().push_back(between(900, 2100));
    }
  return table;
}

inline MixerSpec any_spec_of(Law law) {
  MixerSpec spec;
  spec.throttle = any_input();
  spec.steering = any_input();
  spec.law = law;
  spec.blend = between(0, 1);
  spec.reverse_steering = *rc::gen::element(ReverseSteering::tank, ReverseSteering::car);
  spec.wheel_limit = *rc::gen::element(0.0, 0.1, 0.25, 1.0);
  spec.quick_turn = *rc::gen::element(0.0, 0.1, 0.3);
  spec.gain_t = between(0, 1.5), spec.gain_s = between(0, 1.5);
  spec.pivot_scale = *rc::gen::element(1.0, 0.6, 0.0);
  spec.speed_scale = *rc::gen::element(0.0, 0.4, 1.0);
  spec.left = any_output();
  spec.right = any_output();
  if (law == Law::table) spec.table = any_table();
  if (law != Law::matrix) return spec;
  spec.more_inputs.assign(static_cast<std::size_t>(*rc::gen::inRange(0, 3)), any_input());
  spec.more_outputs.assign(static_cast<std::size_t>(*rc::gen::inRange(0, 3)), any_output());
  spec.matrix.resize(2 + spec.more_outputs.size());
  for (auto& row : spec.matrix)
    while (row.size() < 2 + spec.more_inputs.size()) row.push_back(between(-1.5, 1.5));
  return spec;
}

inline MixerSpec any_spec() { return any_spec_of(*rc::gen::element(any_mirrored_law(), Law::matrix, Law::table)); }

}  // namespace midstick::mixer
