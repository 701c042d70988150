// Signal loss: driving, then all inputs, or one alone, fall silent or freeze (catalogue faults 19, 20, 21, 23, 24, 26; figures common
// practice, no source). From the last valid falling edge of the first input lost until both outputs are safe, and stay so; no kick on the
// way; a gap of the spec's tolerated frames must not trip it.
#include <algorithm>
#include <cmath>
#include <optional>

#include "daemon/judge/checks/checks.hpp"
#include "daemon/judge/conclude.hpp"
#include "daemon/judge/loss_way.hpp"
#include "daemon/judge/pictures.hpp"
#include "daemon/judge/safe.hpp"
#include "daemon/judge/steady.hpp"
#include "daemon/judge/sticks.hpp"
#include "daemon/judge/text.hpp"
#include "daemon/judge/uncertainty.hpp"
#include "daemon/mixer/slew.hpp"
#include "daemon/statistics/rates.hpp"

namespace midstick::judge {
namespace {

constexpr std::int64_t kNeeded = 10;
constexpr double kWatchSpareMs = 300;
constexpr double kSteering = 20;  // percent, so that the loss of steering alone shows as well
constexpr int kLastPulses = 3;
constexpr const char* kGapMark = "short gap";
constexpr const char* kAfterGap = "after the gap";

struct Mode {
  const char* text;       ///< label of the mark
  const char* parameter;  ///< value of "modes" that asks for it
  script::Fault throttle, steering;
};
using script::Fault;
constexpr Mode kModes[] = {
    {"all inputs silent", "all", Fault::drop, Fault::drop},
    {"throttle alone silent", "each", Fault::drop, Fault::none},
    {"steering alone silent", "each", Fault::none, Fault::drop},
    {"all inputs stuck high", "stuck_high", Fault::stuck_high, Fault::stuck_high},
    {"throttle alone stuck high", "stuck_high", Fault::stuck_high, Fault::none},
    {"steering alone stuck high", "stuck_high", Fault::none, Fault::stuck_high},
    {"all inputs stuck low", "stuck_low", Fault::stuck_low, Fault::stuck_low},
    {"throttle alone stuck low", "stuck_low", Fault::stuck_low, Fault::none},
    {"steering alone stuck low", "stuck_low", Fault::none, Fault::stuck_low},
};

bool wanted(const script::PlannedCheck& check, const Mode& mode) {
  for (const auto& m : check.params.at("modes"))
    if (m.get<std::string>() == mode.parameter) return true;
  return false;
}

Result<script::StickScript> compose(const script::Plan& plan, const script::PlannedCheck& check, std::uint64_t seed) {
  Sticks sticks(plan, check.name, seed);
  DrivePoints points(check, seed);
  const double drive_ms = param(check, "drive_ms") + 1e3 * mixer::longest_slew_seconds(plan.spec);
  const double watch = param_or(check, "watch_ms", plan.spec.loss.safe_within_ms + kWatchSpareMs);
  // Under dither one in twenty gaps comes out a frame short; a second one is then played.
  for (int gap = 0; plan.spec.loss.tolerate_frames > 0 && gap < (plan.frame.dither_us > 0 ? 2 : 1); ++gap) {
    const int frames = plan.spec.loss.tolerate_frames;
    const double throttle = points.next();
    sticks.arm().hold(throttle, kSteering, drive_ms, "drive");
    sticks.silent(frames * plan.frame.period_us / 1e3, kGapMark).frame = exact_frames(plan);
    sticks.hold(throttle, kSteering, plan.spec.loss.safe_within_ms + kWatchSpareMs, kAfterGap);
  }
  for (int cycle = 0; cycle < count_param(check, "cycles"); ++cycle)
    for (const Mode& mode : kModes) {
      if (!wanted(check, mode)) continue;
      const double throttle = points.next();
      sticks.arm().hold(throttle, kSteering, drive_ms, "drive");
      auto& move = sticks.hold(throttle, kSteering, watch, mode.text);
      if (mode.throttle != Fault::none) move.faults.push_back(fault_of(plan.spec.throttle, mode.throttle));
      if (mode.steering != Fault::none) move.faults.push_back(fault_of(plan.spec.steering, mode.steering));
    }
  sticks.hold(0, 0, drive_ms, "back to neutral");
  return sticks.take();
}

/// One loss, as the two outputs answered it.
struct Loss {
  const Traffic* traffic;
  BoardTime from, until;  ///< last valid fall of the first input lost; end of the watch
  SafeWatch side[2];
  double safe_ms{0}, uncertainty_ms{0};
  bool reached{false};  ///< both outputs safe at the end
};

/// When the first of the lost inputs gave its last valid pulse before the loss; nothing when one gave none.
std::optional<BoardTime> lost_at(const Traffic& t, const Mode& mode, BoardTime mark) {
  std::optional<BoardTime> first;
  for (const auto& [fault, train] : {std::pair{mode.throttle, &t.throttle()}, std::pair{mode.steering, &t.steering()}}) {
    if (fault == Fault::none) continue;
    const Pulse* last = last_valid(t, *train, mark);
    if (!last) return {};
    if (!first || last->fall < *first) first = last->fall;
  }
  return first;
}

Loss watch(const Context& c, const Traffic& t, BoardTime from, BoardTime until) {
  const auto side = [&](Side s) {
    return watch_safe(c.plan, t, s, from, until, mean_before(t, s, from, kLastPulses), param(c.check, "kick_us"));
  };
  Loss l{&t, from, until, {side(Side::left), side(Side::right)}, 0, 0, true};
  BoardTime last_safe = from;
  for (const SafeWatch& w : l.side) {
    l.reached = l.reached && w.safe_at;
    last_safe = std::max(last_safe, w.safe_at.value_or(until));
  }
  l.safe_ms = t.ms(last_safe - from);
  l.uncertainty_ms =
      span_uncertainty_us(t.capture(), last_safe - from, kCommanded, std::max(l.side[0].safe_half, l.side[1].safe_half)) / 1e3;
  return l;
}

/// Losses that hit a driven controller: one that rested at neutral before has nothing to show.
std::vector<Loss> losses(const Context& c, const std::vector<Traffic>& all, const Mode& mode) {
  std::vector<Loss> found;
  for (const Traffic& t : all)
    for (const auto* mark : t.marks(mode.text))
      if (const auto from = lost_at(t, mode, mark->at); from && driven(c.plan, t, *from))
        found.push_back(watch(c, t, *from, t.end_of(*mark)));
  return found;
}

LossSeen seen(const Context& c, const Mode& mode, const Loss& l) {
  const bool stuck = mode.throttle == Fault::stuck_high || mode.steering == Fault::stuck_high;
  LossSeen s{mode.text, mode.throttle != Fault::none && mode.steering != Fault::none, stuck, {}, {}};
  for (const Side side : kSides) {
    const int i = static_cast<int>(side);
    s.side[i] = loss_way(c.plan, *l.traffic, side, l.from, l.until, l.side[i], param(c.check, "kick_us"));
    s.rest_us[i] = mean_before(*l.traffic, side, l.until, kLastPulses);
  }
  return s;
}

std::string why_not(const Loss& l) {
  for (const Side s : kSides) {
    const SafeWatch& w = l.side[static_cast<int>(s)];
    if (w.safe_at) continue;
    if (w.stuck_high) return std::string(name(s)) + " output stuck high";
    if (w.silent) return std::string(name(s)) + " output fell silent, which the spec does not call safe";
    return std::string(name(s)) + " output still " + num(w.off.value()) + " us from neutral";
  }
  return "";
}

/// Slowest loss of a mode; never safe counts as slower than any.
const Loss* slowest(const std::vector<Loss>& all) {
  const Loss* worst = nullptr;
  for (const Loss& l : all)
    if (!worst || l.reached < worst->reached || (l.reached == worst->reached && l.safe_ms > worst->safe_ms)) worst = &l;
  return worst;
}

void judge_mode(const Context& c, const Mode& mode, const std::vector<Loss>& found, Findings& f) {
  const double limit = c.plan.spec.loss.safe_within_ms;
  const Loss* worst = slowest(found);
  const auto n = static_cast<std::int64_t>(found.size());
  Measure m =
      measure(std::string("time to safe, ") + mode.text, worst ? worst->safe_ms : 0, {}, limit, worst ? worst->uncertainty_ms : 0, "ms", n);
  if (!worst) {
    m.note = "the outputs were not driven when the signal went, or it never went";
  } else if (!worst->reached) {
    // A watch shorter than the limit leaves open what would have come.
    never_came(m, kNeverSafe);
    m.note = "not safe after " + at_least(worst->safe_ms, 0) + " ms, when the watch ended: " + why_not(*worst);
  } else if (m.verdict == Verdict::pass) {
    m.note = "0 of " + whole(n) + " losses later: " + none_seen_text(n);
  }
  if (worst) {
    const BoardTime end = worst->reached ? worst->from + worst->traffic->ticks_ms(worst->safe_ms) : worst->until;
    f.evidence.push_back(worst->traffic->span(worst->from, end, mode.text, m.verdict == Verdict::fail));
    const BoardTime lead = worst->from - worst->traffic->ticks_ms(200);
    Picture p = time_picture(*worst->traffic, lead, worst->until, std::string("Loss: ") + mode.text);
    p.bands.push_back({200, 200 + worst->safe_ms, worst->reached ? "until safe" : kNeverSafe, m.verdict == Verdict::fail});
    for (const Side s : kSides)
      p.series.push_back(level(Series::Role::expected, std::string(name(s)) + " neutral", 200 + limit,
                               worst->traffic->ms(worst->until - lead), neutral_of(c.plan, s)));
    if (m.verdict == Verdict::fail || f.pictures.empty()) f.pictures.push_back(std::move(p));
  }
  f.measures.push_back(std::move(m));
}

/// Level once safe, and kicks on the way, over all losses.
void judge_way(const Context& c, const std::vector<Loss>& all, Findings& f) {
  const double half = c.plan.spec.loss.safe_half_us;
  Extreme level(-half, half), kick({}, param(c.check, "kick_us"));
  bool pulses_when_safe = false;
  for (const Loss& l : all)
    for (const Side s : kSides) {
      const SafeWatch& w = l.side[static_cast<int>(s)];
      level.merge(w.level), kick.merge(w.kick);
      pulses_when_safe = pulses_when_safe || w.level.pulse();
      if (const auto p = w.kick.pulse(); p && w.kick.failing())
        f.evidence.push_back(l.traffic->span(p->rise, p->fall, std::string("kick on the ") + name(s) + " output", true));
    }
  if (pulses_when_safe) f.measures.push_back(level.as_measure("safe level off neutral", 1));
  if (kick.pulse() || !c.plan.spec.loss.pulses_may_stop) f.measures.push_back(kick.as_measure("kick on the way to safe", kNeeded));
}

/// Pulses missing in a row on the throttle after `from`.
int frames_lost(const Context& c, const Traffic& t, BoardTime from) {
  const Pulse* before = last_valid(t, t.throttle(), from);
  const auto after = t.throttle().falling_in(from, t.segment().end);
  if (!before || after.empty()) return 0;
  return static_cast<int>(std::lround(t.ms(after.front().fall - before->fall) / (c.plan.frame.period_us / 1e3))) - 1;
}

/// Did an output leave its width by more than half its way to neutral?
bool left_its_width(const Context& c, const Traffic& t, BoardTime from, BoardTime until) {
  for (const Side s : kSides) {
    const double last = mean_before(t, s, from, kLastPulses), half = std::abs(last - neutral_of(c.plan, s)) / 2;
    const auto pulses = t.output(s).falling_in(from, until);
    if (pulses.empty() || std::any_of(pulses.begin(), pulses.end(), [&](const Pulse& p) { return std::abs(t.us(p) - last) > half; }))
      return true;
  }
  return false;
}

/// The outputs must go on as if nothing had happened, up to the safe time after the gap. Under a dithered receiver a gap can come out a
/// frame longer or shorter than asked: a longer one proves nothing, a shorter one only that it trips too soon.
void judge_gap(const Context& c, const std::vector<Traffic>& all, Findings& f) {
  const int tolerated = c.plan.spec.loss.tolerate_frames;
  if (tolerated == 0) return;
  std::int64_t gaps = 0, tripped = 0;
  int lost = 0;
  for (const Traffic& t : all)
    for (const auto* mark : t.marks(kGapMark)) {
      lost = frames_lost(c, t, mark->at);
      if (!driven(c.plan, t, mark->at) || lost > tolerated) continue;
      const auto* after = next_mark(t, kAfterGap, mark->at);
      const BoardTime until = after ? t.end_of(*after) : t.end_of(*mark);
      const bool left = left_its_width(c, t, mark->at, until);
      if (!left && lost < tolerated) continue;
      ++gaps, tripped += left;
      f.evidence.push_back(t.span(mark->at, until, "short gap", left));
      if (left)
        f.causes.push_back(
            {"loss-timeout-short", 0.9, "tripped on " + whole(lost) + " lost frames; the mixer spec tolerates " + whole(tolerated)});
    }
  f.measures.push_back(none_allowed("trips on a gap of " + whole(tolerated) + " frames", tripped, gaps, "gaps"));
  if (gaps == 0) f.measures.back().note += "; the gap that was sent is " + whole(lost) + " frames long";
}

CheckResult judge(const Context& c) {
  auto [all, stop] = open(c, kNeeded);
  if (stop) return *stop;
  Findings f;
  std::vector<Loss> every;
  std::vector<LossSeen> ways;
  for (const Mode& mode : kModes) {
    if (!wanted(c.check, mode)) continue;
    const auto found = losses(c, all, mode);
    for (const Loss& l : found) ways.push_back(seen(c, mode, l));
    judge_mode(c, mode, found, f);
    every.insert(every.end(), found.begin(), found.end());
  }
  judge_way(c, every, f);
  judge_gap(c, all, f);
  for (Cause& cause : loss_causes(ways)) f.causes.push_back(std::move(cause));
  f.when_passed =
      "Whichever way the signal goes, both outputs are safe within " + num(c.plan.spec.loss.safe_within_ms, 0) + " ms and stay so.";
  f.when_failed = "The vehicle may keep moving when its radio link is lost.";
  return conclude(c, std::move(f));
}

}  // namespace

const CheckKind kSignalLoss{"signal-loss", "driving, then the signal goes: both outputs safe in time", compose, judge};

}  // namespace midstick::judge
