// Stick positions held one after another, and what both outputs rested at: shared by the checks that ask about single positions.
//
// Each position is held until the spec's latency and slew must be over, and then for a few output frames more. Plain values, pure
// functions.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "daemon/judge/mix_error.hpp"
#include "daemon/judge/sticks.hpp"

namespace midstick::judge {

/// Percent of travel.
struct Position {
  double throttle{0}, steering{0};
};

/// The spec's longest way from one position to another, ms: until the frame that tells of it is through, latency, slew.
double settle_ms(const script::Plan& plan, Position from, Position to);

/// Hold each in turn, beginning at centre, and go back to centre. Between positions that share nothing no way is kept.
void hold_positions(Sticks& sticks, const script::Plan& plan, const std::vector<Position>& positions);

/// A reading of each held position whose outputs gave enough pulses after settling, in the order driven.
std::vector<Reading> read_positions(const Context& context, const std::vector<Traffic>& all);

/// Inconclusive measure of the positions that gave no reading; nothing when every one did.
std::optional<Measure> positions_without_reading(const std::vector<Traffic>& all, std::size_t readings);

/// Signed distance of an output's width from its neutral, us, ahead positive whichever way the output turns.
double ahead_us(const script::Plan& plan, Side s, double width_us);
/// The same of what the spec asks at a reading.
mixer::Interval asked_ahead(const script::Plan& plan, const mixer::MixerSpec& spec, const Reading& r, Side s, double input_us);

/// How far `x` is outside, signed; 0 inside.
double outside(const mixer::Interval& range, double x);

/// "throttle 60 %, steering -30 %"
std::string place(const script::Plan& plan, const Hold& hold);

/// Expected and measured widths of both sides over the readings' numbers.
Picture positions_picture(const Context& context, const std::vector<Reading>& readings, const std::vector<bool>& failing, double input_us,
                          std::string title);

/// Evidence: the failing positions first, then the whole of each segment.
void add_positions(const Context& context, const std::vector<Traffic>& all, const std::vector<Reading>& readings,
                   const std::vector<bool>& failing, std::vector<Span>& evidence);

}  // namespace midstick::judge
