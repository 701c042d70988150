// A mixer spec written from a map: what this controller was seen to do, as the limits it is held to from now on.
//
// Of a controller with two inputs and two outputs that mixes sticks T and S to left T + S and right T - S. Dead bands, gains and ends come
// from the fits, expo from the bend, and the law is the one of the reference model's that leaves the least over the whole grid; where none
// comes within kLawUs of every settled position, the grid itself becomes the law (mixer/learn_table). What a sweep cannot see (loss, arming
// beyond its own hold) keeps the format's defaults, which are common practice without a source: a person must look them over.
// A spec from a faulty controller describes the fault. Pure. Error: why no spec was found.
#pragma once

#include <nlohmann/json.hpp>
#include <string>

#include "daemon/core/result.hpp"
#include "daemon/sweep/map.hpp"

namespace midstick::sweep {

/// Largest distance of a settled position from the law.
inline constexpr double kLawUs = 3;

struct Spec {
  nlohmann::ordered_json mixer;  ///< a whole mixer file
  std::string how;               ///< one sentence: the law, and how well it fits
  std::string law;
  double rms_us{0}, largest_us{0};  ///< what the law leaves on the grid
};

Result<Spec> spec_of(const Map& map);

}  // namespace midstick::sweep
