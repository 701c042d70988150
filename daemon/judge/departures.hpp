// Simple departures from a mixer spec, each with the cause it stands for: what a controller does that has one fault in its mix.
//
// Pure values. A departure is tried on readings by judging them against its spec instead of the plan's.
#pragma once

#include <string>
#include <vector>

#include "daemon/mixer/spec.hpp"

namespace midstick::judge {

struct Departure {
  const char* cause;  ///< a row of known_causes()
  std::string text;   ///< "plain clipping of each side", for a sentence
  mixer::MixerSpec spec;
  bool sides_swapped{false}, sticks_swapped{false};
};

/// All that are tried. Those with a number (how far an end is off) come once for each of some values.
std::vector<Departure> departures(const mixer::MixerSpec& spec);

}  // namespace midstick::judge
