// Random sticks: a seeded script of drives, ramps, swings, jumps and corners with faults of the link mixed in.
//
// Everything that a receiver and its wires are known to do comes in turn, in seeded order: gaps the spec must tolerate, losses of all or
// one channel, stuck lines, runts, notches, wild frames, implausible widths, resets, power cycles; some with a rest at neutral afterwards,
// some without. Sticks in whole percent, so that a script can be read. Pure: same plan and seed, same moves. The moves begin where a
// check's preamble ends, with the sticks at neutral and armed, and end with power on and a rest at neutral.
#pragma once

#include <vector>

#include "daemon/script/plan.hpp"

namespace midstick::judge {

/// Moves of about `for_ms` in all. `faults` false: sticks alone.
std::vector<script::Move> random_moves(const script::Plan& plan, double for_ms, std::uint64_t seed, bool faults);

double length_ms(const script::Move& move);

}  // namespace midstick::judge
