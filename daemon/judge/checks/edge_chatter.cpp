// Edge chatter: a stick that trembles on the edge of its dead band. How often do the outputs change between neutral and driven? With a
// hysteresis in the spec, or a band whose edge is no step, hardly ever. A plain jump band does chatter there: then the spec asks for it,
// and the rate is told, not judged. Common practice, no source.
#include <algorithm>
#include <cmath>

#include "daemon/judge/checks/checks.hpp"
#include "daemon/judge/conclude.hpp"
#include "daemon/judge/pictures.hpp"
#include "daemon/judge/sticks.hpp"
#include "daemon/judge/text.hpp"
#include "daemon/mixer/model.hpp"
#include "daemon/statistics/summary.hpp"

namespace midstick::judge {
namespace {

constexpr std::int64_t kNeeded = 20;  // pulses on each output, and at each edge
constexpr double kLeastStepUs = 3;    // a smaller step does not stand out of the outputs' own noise
constexpr double kMisreadUs = 4;      // what a controller may misread, as input_us of the other checks; common practice, no source
constexpr int kFramesATremble = 2;    // receiver frames on either side of the edge: long enough for every output frame to see it
const char* const kMarks[2][2] = {{"throttle low edge", "throttle high edge"}, {"steering low edge", "steering high edge"}};

const mixer::InputSpec& input(const script::Plan& plan, int i) { return i == 0 ? plan.spec.throttle : plan.spec.steering; }

double edge_us(const mixer::InputSpec& in, int high) { return in.centre_us + (high ? 1 : -1) * in.dead_band_half_us; }

Result<script::StickScript> compose(const script::Plan& plan, const script::PlannedCheck& check, std::uint64_t seed) {
  Sticks sticks(plan, check.name, seed);
  sticks.arm().hold(40, 0, 300, "drive");  // so that it is seen to drive at all: at the band's edge hardly anything moves
  sticks.hold(0, 0, 300, "centre");
  // The trembling is all there is: a receiver's jitter on top would leave the hysteresis that the spec asks for.
  sticks.frame().jitter_us = 0;
  const double frame_ms = whole_frames_ms(plan, 1), dither = param(check, "dither_us");
  for (int i = 0; i < 2; ++i)
    for (int high = 0; high < 2; ++high) {
      const mixer::InputSpec& in = input(plan, i);
      const double edge = edge_us(in, high);
      const double t = i == 0 ? edge : plan.spec.throttle.centre_us, s = i == 1 ? edge : plan.spec.steering.centre_us;
      sticks.hold_us(t, s, 2 * frame_ms, kMarks[i][high]);
      script::Move& tremble = sticks.hold_us(t, s, frame_ms);
      tremble.kind = script::Move::Kind::points;
      tremble.point_ms = kFramesATremble * frame_ms + plan.frame.dither_us / 1e3;
      for (double ms = 0; ms < param(check, "for_ms"); ms += tremble.point_ms)
        tremble.points.push_back({{in.name, edge + (tremble.points.size() % 2 ? -dither : dither)}});
      sticks.hold(0, 0, 2 * frame_ms, "centre");
    }
  return sticks.take();
}

/// Furthest that the spec moves an output from neutral with the stick so far outside the edge, us.
double asked_move(const Context& c, int i, int high, double outside_us) {
  const auto& spec = c.plan.spec;
  const double at = edge_us(input(c.plan, i), high) + (high ? 1 : -1) * outside_us;
  const auto y = i == 0 ? mixer::expected(spec, at, spec.steering.centre_us) : mixer::expected(spec, spec.throttle.centre_us, at);
  return std::max(std::abs(y.left_us - neutral_of(c.plan, Side::left)), std::abs(y.right_us - neutral_of(c.plan, Side::right)));
}

/// The spec's answer to the trembling stick at its outer turn.
double asked_move(const Context& c, int i, int high) { return asked_move(c, i, high, param(c.check, "dither_us")); }

/// The same for a controller whose clock is off as far as the spec allows: it sees the stick beside where the bench put it.
double asked_move_by_its_clock(const Context& c, int i, int high) {
  const double aside = edge_us(input(c.plan, i), high) * (1 / c.controller_clock - 1) * (high ? 1 : -1);
  return asked_move(c, i, high, param(c.check, "dither_us") + std::max(0.0, aside));
}

/// Does the spec promise quiet there?
bool judged(const Context& c, int i, int high) {
  return input(c.plan, i).dead_band == mixer::DeadBandKind::hysteresis || asked_move(c, i, high) < param(c.check, "moved_us");
}

/// What counts as driven, us from rest: half of the spec's step where it has one, else a move that nobody would call neutral.
double threshold_us(const Context& c, int i, int high) {
  const bool step = input(c.plan, i).dead_band == mixer::DeadBandKind::hysteresis || !judged(c, i, high);
  return step ? std::max(kLeastStepUs, asked_move(c, i, high) / 2)
              : std::max(param(c.check, "moved_us"), asked_move_by_its_clock(c, i, high) + kMisreadUs + kLeastStepUs);
}

struct Count {
  std::int64_t changes{0}, pulses{0};
  double seconds{0};
};

/// Width at which an output rests with the sticks at centre: a neutral that is off by itself is not this check's matter.
double rest_of(const Context& c, const Traffic& t, Side side) {
  std::vector<double> us;
  for (const auto* mark : t.marks("arm")) {
    const BoardTime end = t.end_of(*mark);
    for (const Pulse& p : t.output(side).within(mark->at, end)) us.push_back(t.us(p));
  }
  return us.empty() ? neutral_of(c.plan, side) : statistics::summarise(us).median;
}

/// A pulse too near the threshold to be told leaves the state as it was.
Count count(const Context& c, const Traffic& t, Side side, const capture::Mark& mark, double threshold) {
  Count n;
  const double rest = rest_of(c, t, side);
  const BoardTime begin = mark.at + t.ticks_ms(param(c.check, "settle_ms")), end = t.end_of(mark);
  bool driven = false, known = false;
  for (const Pulse& p : t.output(side).within(begin, end)) {
    ++n.pulses;
    const double past = std::abs(t.us(p) - rest) - threshold;
    if (std::abs(past) <= t.width_uncertainty(p)) continue;
    n.changes += known && driven != (past > 0);
    driven = past > 0, known = true;
  }
  n.seconds = t.ms(end - begin) / 1e3;
  return n;
}

void judge_edge(const Context& c, const std::vector<Traffic>& all, int i, int high, Findings& f) {
  const char* label = kMarks[i][high];
  Count worst;
  double rate = -1;
  for (const Traffic& t : all)
    for (const auto* mark : t.marks(label))
      for (const Side s : kSides) {
        const Count n = count(c, t, s, *mark, threshold_us(c, i, high));
        if (n.seconds <= 0 || static_cast<double>(n.changes) / n.seconds <= rate) continue;
        worst = n, rate = static_cast<double>(n.changes) / n.seconds;
      }
  const bool limit = judged(c, i, high);
  Measure m = measure(std::string(label) + " changes", std::max(0.0, rate), {},
                      limit ? std::optional(param(c.check, "changes_per_s")) : std::nullopt, worst.seconds > 0 ? 1 / worst.seconds : 0,
                      "/s", worst.pulses, kNeeded);
  const std::string note = whole(worst.changes) + " changes between neutral and driven in " + num(worst.seconds) + " s" +
                           (limit ? "" : "; the mixer spec has a step there and no hysteresis, so this is told, not judged");
  m.note += (m.note.empty() ? "" : "; ") + note;
  const bool failing = m.verdict == Verdict::fail;
  f.measures.push_back(std::move(m));
  if (failing && input(c.plan, i).dead_band == mixer::DeadBandKind::hysteresis)
    f.causes.push_back({"no-hysteresis", 0.95, note + ", with the stick moving " + num(2 * param(c.check, "dither_us")) + " us"});
  else if (failing)
    f.causes.push_back({"dead-band-kind", 0.6, note + ", where the spec's band has no step"});
  for (const Traffic& t : all)
    for (const auto* mark : t.marks(label)) {
      f.evidence.push_back(t.span(mark->at, t.end_of(*mark), label, failing));
      if (f.pictures.size() == static_cast<std::size_t>(2 * i + high))
        f.pictures.push_back(time_picture(t, mark->at, t.end_of(*mark), "A stick trembling on the " + std::string(label)));
    }
}

CheckResult judge(const Context& c) {
  auto [all, stop] = open(c, kNeeded);
  if (stop) return *stop;
  Findings f;
  for (int i = 0; i < 2; ++i)
    for (int high = 0; high < 2; ++high) judge_edge(c, all, i, high, f);
  f.when_passed = "A stick that trembles on the edge of its dead band leaves the outputs as quiet as the mixer spec says.";
  f.when_failed = "Motors and gears are jolted many times a second while a stick rests near its centre.";
  return conclude(c, std::move(f));
}

}  // namespace

const CheckKind kEdgeChatter{"edge-chatter", "a stick trembling on the edge of its dead band: outputs must not flicker", compose, judge};

}  // namespace midstick::judge
