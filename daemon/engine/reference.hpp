// The host's clock held against a reference of one pulse a second, by way of the board: what `midstick bench --reference` shows.
//
// The board stamps the pulses and is asked for its time meanwhile, so the same seconds are measured by both. Makes no pulse, powers
// nothing. Single-threaded; blocks for `seconds` (virtual ones on a virtual bench). Errors: usage for a line the board does not have,
// bench_unfit without a usable reference or with a clock that contradicts itself, stopped by the operator.
#pragma once

#include "daemon/clock/reference.hpp"
#include "daemon/engine/session.hpp"

namespace midstick::engine {

struct ReferenceReport {
  clock::ReferenceFinding board;   ///< board against reference
  double host_ppm{0};              ///< host's raw clock against the reference; > 0: fast
  double host_uncertainty_ppm{0};  ///< U (95 %)
};

/// Of a session whose clock is settled. `line` 0..7: R1, R2, P1..P6. R lines stamp to a tick, P lines to some tens of them.
Result<ReferenceReport> hold_against_reference(Session& session, std::uint8_t line, double seconds);

/// "R2" -> 1; nothing for what is no capture line.
std::optional<std::uint8_t> capture_line(const std::string& name);

}  // namespace midstick::engine
