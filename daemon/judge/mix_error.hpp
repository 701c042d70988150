// Readings of settled outputs at held stick positions, their distance from the model, and what a systematic distance is consistent with.
//
// Pure values and functions. The model's interval is taken over the controller's own input error and the spread of the sent widths.
#pragma once

#include <string>
#include <vector>

#include "daemon/judge/holds.hpp"
#include "daemon/mixer/model.hpp"

namespace midstick::judge {

/// One side at one held position.
struct SideReading {
  double mean_us{0}, uncertainty_us{0};
  std::int64_t pulses{0};
};

struct Reading {
  Hold hold;
  const Traffic* traffic{nullptr};
  SideReading side[2];
  const SideReading& at(Side s) const { return side[static_cast<int>(s)]; }
};

/// Readings of every hold long enough for `needed` settled pulses on each output; holds shorter than that are not readings.
std::vector<Reading> readings(const Context& context, const std::vector<Traffic>& all, std::size_t needed);

/// What the spec asks of one side at a reading, us.
mixer::Interval asked(const mixer::MixerSpec& spec, const Reading& r, Side s, double input_us);

/// Signed distance of the reading from what is asked: 0 inside, positive: too long.
double error_us(const mixer::MixerSpec& spec, const Reading& r, Side s, double input_us);

/// A simple departure from the spec that explains all readings within `tolerance_us`; empty when none does.
std::string consistent_with(const mixer::MixerSpec& spec, const std::vector<Reading>& readings, double input_us, double tolerance_us);

/// Causes that explain most of the readings that are wrong by the spec, likeliest first: a departure counts by the share of the wrong
/// readings that it makes right, less what it leaves of their errors. Empty when nothing is wrong, or nothing explains it.
std::vector<Cause> causes_of(const mixer::MixerSpec& spec, const std::vector<Reading>& readings, double input_us, double tolerance_us);

/// Stick position in percent of travel.
double percent_of(const mixer::InputSpec& in, double width_us);

}  // namespace midstick::judge
