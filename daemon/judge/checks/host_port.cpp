// The controller's own serial port opened and closed while driving (common practice, no source): many boards tie a line of their USB bridge
// to reset, so that a program which merely looks at the port restarts the controller. Needs the port's device in the controller
// description; without it the check is not run. The computer opens it some milliseconds late, which does not matter here.
#include <algorithm>
#include <cmath>

#include "daemon/judge/checks/checks.hpp"
#include "daemon/judge/conclude.hpp"
#include "daemon/judge/pictures.hpp"
#include "daemon/judge/safe.hpp"
#include "daemon/judge/sticks.hpp"
#include "daemon/judge/text.hpp"
#include "daemon/judge/uncertainty.hpp"

namespace midstick::judge {
namespace {

constexpr std::int64_t kNeeded = 10;
constexpr double kDriveMs = 500;
constexpr int kLastPulses = 10;
constexpr const char* kOpened = "port opened";
constexpr const char* kClosed = "port closed";

Result<script::StickScript> compose(const script::Plan& plan, const script::PlannedCheck& check, std::uint64_t seed) {
  Sticks sticks(plan, check.name, seed);
  if (plan.controller.serial.empty()) return sticks.take();
  const double drive = param(check, "drive_percent"), watch = param(check, "watch_ms");
  for (int cycle = 0; cycle < count_param(check, "cycles"); ++cycle) {
    sticks.arm().hold(drive, 0, kDriveMs, "drive");
    sticks.hold(drive, 0, watch, kOpened).actions = {script::ActionKind::port_open};
    sticks.hold(drive, 0, watch, kClosed).actions = {script::ActionKind::port_close};
  }
  sticks.hold(0, 0, kDriveMs, "back to neutral");
  return sticks.take();
}

/// The longest time without the end of a pulse in a stretch.
BoardSpan longest_pause(const PulseTrain& output, BoardTime from, BoardTime until) {
  BoardSpan longest{};
  BoardTime last = from;
  for (const Pulse& p : output.falling_in(from, until)) longest = std::max(longest, p.fall - last), last = p.fall;
  return std::max(longest, until - last);
}

struct Watched {
  BoardSpan pause{};
  std::int64_t touched{0}, moved{0};  ///< openings and closings; those that an output answered
  std::string example;
};

void watch(const Context& c, const Traffic& t, const char* label, Extreme& off, Watched& w, Findings& f) {
  const double tolerance = param(c.check, "tolerance_us"), longest = 2 * c.plan.spec.frame.period_high_ms;
  for (const auto* mark : t.marks(label)) {
    if (std::string(label) == kOpened && !driven(c.plan, t, mark->at)) continue;
    const BoardTime end = t.end_of(*mark);
    bool answered = false;
    for (const Side s : kSides) {
      // A restart at the opening must not pass for the level to keep at the closing: both are held against the driven level.
      const auto drive = t.marks("drive");
      const auto own = std::find_if(drive.rbegin(), drive.rend(), [&](const auto* m) { return m->at < mark->at; });
      if (own == drive.rend()) continue;
      const double before = mean_before(t, s, t.end_of(**own), kLastPulses);
      Extreme here(-tolerance, tolerance);
      for (const Pulse& p : t.output(s).within(mark->at, end)) here.add(t, p, t.us(p) - before);
      const BoardSpan pause = longest_pause(t.output(s), mark->at, end);
      answered = answered || here.failing() || t.ms(pause) > longest;
      if (answered && w.example.empty())
        w.example =
            "no pulse for " + num(t.ms(pause), 0) + " ms and " + num(here.value(), 0) + " us off as driven, after \"" + label + "\"";
      w.pause = std::max(w.pause, pause);
      off.merge(here);
    }
    ++w.touched;
    w.moved += answered;
    f.evidence.push_back(t.span(mark->at, end, label, answered));
  }
}

CheckResult judge(const Context& c) {
  if (c.plan.controller.serial.empty()) {
    CheckResult r;
    r.name = c.check.name;
    r.kind = c.check.kind;
    r.not_run = "the controller description names no serial port of the controller (\"serial\").";
    r.summary = "Not run: " + r.not_run;
    return r;
  }
  auto [all, stop] = open(c, kNeeded);
  if (stop) return *stop;
  Findings f;
  Watched w;
  const double tolerance = param(c.check, "tolerance_us");
  Extreme off(-tolerance, tolerance);
  for (const Traffic& t : all) {
    for (const char* label : {kOpened, kClosed}) watch(c, t, label, off, w, f);
    if (f.pictures.empty()) f.pictures.push_back(time_picture(t, t.segment().begin, t.segment().end, "Serial port opened and closed"));
  }
  if (w.touched == 0) return undecided(c, "the outputs were not driven when the port was opened.");
  f.measures.push_back(off.as_measure("outputs off as driven", kNeeded));
  const double u = span_uncertainty_us(c.capture, w.pause, 1, 1) / 1e3;
  f.measures.push_back(
      measure("longest time without a pulse", all.front().ms(w.pause), {}, 2 * c.plan.spec.frame.period_high_ms, u, "ms", w.touched));
  if (w.moved > 0)
    f.causes.push_back({"port-resets", 0.9, w.example + "; " + whole(w.moved) + " of " + whole(w.touched) + " openings and closings"});
  f.when_passed = "Opening and closing the controller's serial port does not disturb its outputs.";
  f.when_failed = "A computer that opens the controller's serial port stops or restarts it.";
  return conclude(c, std::move(f));
}

}  // namespace

const CheckKind kHostPort{"host-port", "the controller's own serial port opened and closed while driving: no reset", compose, judge};

}  // namespace midstick::judge
