// From measures to a check's result: verdict, headline, and one sentence for a beginner.
//
// Pure functions. The sentence of a passing check is the check's own; a failing or undecided one is built from the headline measure, so
// that number and sentence never differ.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "daemon/judge/decision.hpp"
#include "daemon/judge/traffic.hpp"

namespace midstick::judge {

/// What a check found, ready to be concluded.
struct Findings {
  std::vector<Measure> measures;
  std::vector<Span> evidence;
  std::vector<Picture> pictures;
  std::string when_passed;    ///< one sentence
  std::string when_failed;    ///< what a failure means for the vehicle; may be empty
  std::vector<Cause> causes;  ///< what the evidence is consistent with; kept only when the check fails
};

CheckResult conclude(const Context& context, Findings findings);

/// Nothing could be measured, and why (one sentence).
CheckResult undecided(const Context& context, const std::string& why);

/// Why no verdict is possible on this traffic: fewer than `needed` pulses on an input or an output of a segment, or edges that
/// contradict each other. Nothing when there is enough.
std::optional<std::string> too_little(const std::vector<Traffic>& all, std::int64_t needed);

/// Traffic of every segment, or the reason why there is nothing to judge.
struct Opened {
  std::vector<Traffic> all;
  std::optional<CheckResult> stop;
};
Opened open(const Context& context, std::int64_t needed);

/// "8.0 us; allowed is -5.0 to 5.0 us"
std::string measured_against_limits(const Measure& m);

}  // namespace midstick::judge
