// The default world of the judge's tests: a tracked machine's spec, a plan of all nine checks with the schema's defaults, and a bench whose
// clock is off. Each test overrides a few named numbers and asserts verdicts.
#pragma once

#include <functional>
#include <string>

#include "daemon/judge/check.hpp"
#include "tests/judge/simulated_controller.hpp"

namespace midstick::judge_test {

/// How the bench is and what it loses.
struct Bench {
  double clock_ppm{-4200};   ///< true error of the board's clock; the map knows it
  double map_error_ppm{20};  ///< what the map has wrong
  double uncertainty_ppm{60};
  bool pin_change{false};   ///< outputs wired to P1, P2: wider bounds, stamps off within them
  int crowded_percent{10};  ///< of those edges, so many have another within 10 us and the wide bound
};

/// Plan of these checks ("neutral", ...), from JSON through the real reader: every default is the schema's.
script::Plan plan_of(const std::vector<std::string>& kinds, const Bench& bench = {});
/// The same, with the members of one check's entry given ({"check": "neutral", "for_ms": 500}).
script::Plan plan_with(const std::string& checks_json, const Bench& bench = {});

/// Compose, compile, play and capture the whole plan.
capture::Capture run(const script::Plan& plan, const Behaviour& controller = {}, const Bench& bench = {});

/// The correct controller, changed.
Behaviour with(const std::function<void(Behaviour&)>& change);

/// Id of the likeliest cause; empty when none fits.
std::string first_cause(const judge::CheckResult& result);

/// "power-up fail: Left ...", one line a check, for test messages.
std::string told(const judge::RunResult& result);
const judge::CheckResult& check(const judge::RunResult& result, const std::string& name);
/// Throws where there is none, so that a test fails instead of following a null pointer.
const judge::Measure* measure(const judge::CheckResult& result, const std::string& name);
/// Names of the checks with this verdict, comma between.
std::string those(const judge::RunResult& result, judge::Verdict verdict);
/// Board time in which the composed checks run, ms.
double length_ms(const capture::Capture& capture);

}  // namespace midstick::judge_test
