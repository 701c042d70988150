// What a calibration knows about one bench board's stamps, and how a capture is corrected by it.
//
// Offsets say how late an edge reads: a stimulus edge is at the pin `stimulus_late` ticks after the tick commanded, a response is stamped
// `response_late` ticks after it was at the pin. Only sums of the two can be measured by loopback; the stimulus lines' mean is taken as 0.
// `pin_change` is how lone pin change stamps scatter once corrected. Plain values, part of the capture, so that judging again gives the
// same answer. Board ticks. Pure; nothing here fails.
#pragma once

#include <array>
#include <cstdint>
#include <string>
#include <vector>

#include "daemon/core/time.hpp"

namespace midstick::capture {

struct Capture;
struct Identity;

/// So many lone pin change stamps were this late, in whole ticks.
struct DelayCount {
  int ticks{0};
  std::int64_t count{0};
  friend bool operator==(const DelayCount&, const DelayCount&) = default;
};

struct Calibration {
  std::string board;        ///< serial number of the board's USB port, or a name a person gave it
  std::string date;         ///< UTC, "2026-11-25T07:00:00Z"
  int valid_days{365};      ///< from `date`
  std::string firmware;     ///< of the board, "1.0"
  std::string schema_hash;  ///< of the wire, 8 hex digits
  int supply_mv{0};         ///< of the board, as a person read it; 0: not read
  double clock_ppm{0};      ///< of the board then, against the host
  double clock_uncertainty_ppm{0};
  std::array<double, 6> stimulus_late{};  ///< S1..S6
  std::array<double, 8> response_late{};  ///< R1, R2, P1..P6
  std::uint16_t lone_half{0};             ///< the board's bound on a lone pin change stamp, which `pin_change` replaces
  std::vector<DelayCount> pin_change;     ///< about the corrected stamp, by ticks; empty: not measured, the board's bound stays
  friend bool operator==(const Calibration&, const Calibration&) = default;
};

/// Why `calibration` must not be used with the board `identity`, called `board`, at `now` (UTC, ISO 8601); empty: it may.
std::string why_not(const Calibration& calibration, const Identity& identity, const std::string& board, const std::string& now);

/// Last day of validity, "2027-11-25"; empty when `date` is no date.
std::string valid_until(const Calibration& calibration);

/// Correct every stamp by whole ticks and keep the calibration in the capture. A capture is corrected once.
void apply(const Calibration& calibration, Capture& capture);

}  // namespace midstick::capture
