// A check: what it asks the sticks to do, and how it judges the answer.
//
// compose() and judge() are pure. judge() sees the whole capture and the segments (one per repeat) that belong to the check, and
// answers pass, fail or inconclusive with evidence. It never passes on missing data: no edges, lost edges inside a segment, an
// incomplete capture, or an unfit bench give `inconclusive` (see judge_run). Adding a check: one file in judge/checks, one row in the
// registry, one definition in the plan schema.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "daemon/capture/capture.hpp"
#include "daemon/core/result.hpp"
#include "daemon/script/plan.hpp"
#include "daemon/script/stick_script.hpp"

namespace midstick::judge {

enum class Verdict { pass, fail, inconclusive };
constexpr const char* name(Verdict v) { return v == Verdict::pass ? "pass" : v == Verdict::fail ? "fail" : "inconclusive"; }

/// One number against one limit. Verdict by the plan's decision rule (decision.hpp).
struct Measure {
  std::string name;  ///< "neutral left"
  double measured{0};
  std::optional<double> limit_low, limit_high;
  double uncertainty{0};  ///< 95 % half width, same unit
  std::string unit;       ///< "us", "ms", "count", "%"
  std::int64_t samples{0};
  Verdict verdict{Verdict::inconclusive};
  std::string note;      ///< what the sample size supports: "0 of 1200 frames: rate below 0.25 % (none in n, 95 %, one-sided)"
  bool withheld{false};  ///< the verdict does not follow from the number alone; see withhold()
  /// What did not come before the watch ended ("never safe"): then `measured` is how long was watched, a lower bound, and no reading.
  /// Empty: it is one. See never_came().
  std::string never;
};

/// A stretch of the capture that a statement rests on.
struct Span {
  BoardTime begin, end;
  std::string label;
  bool failing{false};
  std::vector<std::uint8_t> stimulus_lines, response_lines;
  double severity{0};  ///< among failing spans of a check: the higher, the worse; any unit
};

struct Series {
  enum class Style { line, steps, dots } style{Style::line};
  enum class Role { expected, measured, input, limit } role{Role::measured};
  std::string label;
  std::vector<double> x, y;  ///< NaN breaks a line
};
struct Band {  ///< shaded stretch of the x axis
  double from{0}, to{0};
  std::string label;
  bool failing{false};
};
/// States over the x axis, drawn as a row of labelled blocks under the plot: what an ESC does with the pulses above it.
struct Lane {
  std::string label;
  std::vector<Band> states;
};
/// A plot, drawn by report/ as SVG.
struct Picture {
  std::string title, x_label, y_label;
  std::vector<Series> series;
  std::vector<Band> bands;
  std::vector<Lane> lanes;
};

/// Something that a failing check's evidence is consistent with. Named in causes.cpp; not a proof.
struct Cause {
  std::string id;      ///< "torn-read"; a row of known_causes()
  double fit{0};       ///< 0..1: how much of the check's own evidence it explains
  std::string reason;  ///< the numbers that speak for it: "9 of 9 outliers are a multiple of 128 us off, 256 counts of 0.5 us"
};

struct CheckResult {
  std::string name, kind;
  Verdict verdict{Verdict::inconclusive};
  std::string summary;  ///< one sentence for a beginner
  int headline{-1};     ///< index into measures of the one that decided
  std::vector<Measure> measures;
  std::vector<Span> evidence;  ///< failing spans first, the worst of them foremost
  std::vector<Picture> pictures;
  std::vector<Cause> causes;  ///< of a failing check, likeliest first (rank_causes); empty: no known cause fits
  std::string not_run;        ///< why it was left out (no relay, nobody at hand); does not count in the run's verdict
  double board_ms{0};         ///< board time that its repeats took, true time; set by judge_run
};

struct RunResult {
  Verdict verdict{Verdict::inconclusive};  ///< fail if any fails; else inconclusive if any is; else pass
  std::string summary;
  std::vector<CheckResult> checks;
};

/// What a check may read.
struct Context {
  const script::Plan& plan;
  const script::PlannedCheck& check;
  const capture::Capture& capture;
  std::vector<capture::Segment> segments;  ///< of this check, by repeat
  double controller_clock{1};              ///< length of the controller's second, true seconds, where the spec allows for it
};

struct CheckKind {
  const char* kind;
  const char* about;  ///< one line for --help and the report
  Result<script::StickScript> (*compose)(const script::Plan&, const script::PlannedCheck&, std::uint64_t seed);
  CheckResult (*judge)(const Context&);
  bool passes_at_rest{false};  ///< outputs that never leave neutral may be right, whatever the sticks ask
};

/// All kinds, in the plan schema's order.
const std::vector<CheckKind>& check_kinds();

/// Judge a whole run. Applies the bench's own fitness first: a check whose segments contain lost edges, a board restart or fault, or
/// that the run never reached, is inconclusive and says why.
RunResult judge_run(const script::Plan& plan, const capture::Capture& capture);

}  // namespace midstick::judge
