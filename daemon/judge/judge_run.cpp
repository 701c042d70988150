// Fitness of the bench first, then each check, then the run's verdict.
#include <algorithm>

#include "daemon/judge/causes.hpp"
#include "daemon/judge/check.hpp"
#include "daemon/judge/controller_clock.hpp"
#include "daemon/judge/safe.hpp"
#include "daemon/judge/text.hpp"
#include "daemon/judge/traffic.hpp"

namespace midstick::judge {
namespace {

using capture::Capture;
using capture::Event;
using capture::EventKind;
using capture::Segment;

bool overlaps(const Event& e, const Segment& s) { return e.at >= s.begin && std::min(e.since, e.at) <= s.end; }
/// A restart puts everything after it on another clock; faults and the stop loop end pulses and power until the next run.
bool before_end(const Event& e, const Segment& s) { return e.at <= s.end; }

std::string said(const Event& e, const std::string& otherwise) { return e.text.empty() ? otherwise : e.text; }

/// Why an event spoils a segment; empty when it does not.
std::string spoils(const Event& e, const Segment& s) {
  switch (e.kind) {
    case EventKind::board_restart:
      return before_end(e, s) ? "the bench board restarted (" + said(e, "boot " + whole(e.value)) + ")" : "";
    case EventKind::board_fault:
      return before_end(e, s) ? "the bench board stopped with fault " + whole(e.value) + (e.text.empty() ? "" : " (" + e.text + ")") : "";
    case EventKind::stop_loop_open:
      return before_end(e, s) ? "the stop loop was opened" : "";
    case EventKind::edges_lost:
      return overlaps(e, s) ? "the record has a gap (" + said(e, whole(e.value) + " lost") + ")" : "";
    default:
      return "";
  }
}

/// Why no verdict on this check may stand; empty when the bench was fit.
std::string unfit(const script::PlannedCheck& check, const Capture& capture, const std::vector<Segment>& segments) {
  if (segments.empty()) return "the run never reached this check";
  for (const Segment& s : segments)
    for (const Event& e : capture.events)
      if (auto why = spoils(e, s); !why.empty()) return why;
  if (static_cast<int>(segments.size()) < check.repeats)
    return "the run reached only " + whole(static_cast<std::int64_t>(segments.size())) + " of " + whole(check.repeats) + " repeats";
  if (!capture.complete) return "the run was cut short" + (capture.incomplete_reason.empty() ? "" : " (" + capture.incomplete_reason + ")");
  return "";
}

/// A check that asks for no moves under this plan is not run: its judge() says why.
bool left_out(const CheckKind& kind, const script::Plan& plan, const script::PlannedCheck& check) {
  const auto sticks = kind.compose(plan, check, plan.seed);
  return sticks.ok() && sticks->moves.empty();
}

CheckResult judge_check(const script::Plan& plan, const Capture& capture, int index, double clock) {
  const script::PlannedCheck& check = plan.checks[static_cast<std::size_t>(index)];
  Context context{plan, check, capture, {}, clock};
  for (const Segment& s : capture.segments)
    if (s.check == index) context.segments.push_back(s);
  std::stable_sort(context.segments.begin(), context.segments.end(),
                   [](const Segment& a, const Segment& b) { return a.repeat < b.repeat; });

  CheckResult result;
  result.name = check.name;
  result.kind = check.kind;
  const auto& kinds = check_kinds();
  const auto kind = std::find_if(kinds.begin(), kinds.end(), [&](const CheckKind& k) { return check.kind == k.kind; });
  if (kind == kinds.end()) {
    result.summary = "No verdict: this program knows no check '" + check.kind + "'.";
    return result;
  }
  if (context.segments.empty() && left_out(*kind, plan, check)) return kind->judge(context);
  std::string why = unfit(check, capture, context.segments);
  if (!context.segments.empty()) result = kind->judge(context);
  for (const Segment& s : context.segments) result.board_ms += capture.clock.us(s.end - s.begin) / 1e3;
  if (why.empty() && result.verdict == Verdict::pass && !kind->passes_at_rest)
    if (const auto all = traffic_of(context); all && never_driven(plan, *all))
      why = "the outputs never left neutral, whatever the sticks asked for";
  if (why.empty()) return result;
  // What was measured stays in the report, but none of it may stand as a verdict: neither a pass nor a fail is proven on such data.
  const std::string before = result.verdict == Verdict::fail ? " What is left of it points to a fail: " + result.summary : "";
  result.verdict = Verdict::inconclusive;
  result.headline = -1;
  for (Measure& m : result.measures) m.verdict = Verdict::inconclusive;
  for (Span& s : result.evidence) s.failing = false;
  result.summary = "No verdict: " + why + "." + before;
  return result;
}

std::string summary_of(const RunResult& r) {
  const auto count = [&](Verdict v) {
    return whole(
        std::count_if(r.checks.begin(), r.checks.end(), [&](const CheckResult& c) { return c.verdict == v && c.not_run.empty(); }));
  };
  const auto not_run = std::count_if(r.checks.begin(), r.checks.end(), [](const CheckResult& c) { return !c.not_run.empty(); });
  std::string first;
  for (const CheckResult& c : r.checks)
    if (first.empty() && c.not_run.empty() && c.verdict == r.verdict && r.verdict != Verdict::pass) first = " First: " + c.name + ".";
  return count(Verdict::pass) + " passed, " + count(Verdict::fail) + " failed, " + count(Verdict::inconclusive) + " inconclusive" +
         (not_run > 0 ? ", " + whole(not_run) + " not run." : ".") + first;
}

}  // namespace

RunResult judge_run(const script::Plan& plan, const Capture& capture) {
  RunResult run;
  const double clock = controller_clock(plan, capture);
  for (int i = 0; i < static_cast<int>(plan.checks.size()); ++i)
    if (plan.plays(plan.checks[static_cast<std::size_t>(i)])) run.checks.push_back(judge_check(plan, capture, i, clock));
  const bool any = std::any_of(run.checks.begin(), run.checks.end(), [](const CheckResult& c) { return c.not_run.empty(); });
  run.verdict = any ? Verdict::pass : Verdict::inconclusive;
  for (const CheckResult& c : run.checks) {
    if (!c.not_run.empty()) continue;
    if (c.verdict == Verdict::fail) run.verdict = Verdict::fail;
    if (c.verdict == Verdict::inconclusive && run.verdict == Verdict::pass) run.verdict = Verdict::inconclusive;
  }
  rank_causes(run);
  run.summary = summary_of(run);
  return run;
}

}  // namespace midstick::judge
