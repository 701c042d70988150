// Frozen output: bursts of edges on one input, then on both, while driving; meanwhile the stick moves. The outputs must go safe or keep
// following, and follow again when the storm is over (after arming, where it tripped). Pulses that go on without following are the
// worst a program can do when it hangs: an ESC takes them for a living signal (figures common practice, no source; catalogue fault 44).
#include <algorithm>
#include <cmath>

#include "daemon/judge/checks/checks.hpp"
#include "daemon/judge/conclude.hpp"
#include "daemon/judge/pictures.hpp"
#include "daemon/judge/sticks.hpp"
#include "daemon/judge/text.hpp"
#include "daemon/judge/uncertainty.hpp"
#include "daemon/mixer/model.hpp"
#include "daemon/statistics/summary.hpp"

namespace midstick::judge {
namespace {

constexpr std::int64_t kNeeded = 10;
constexpr double kFirstStormMs = 400, kSpareMs = 300;             // before the stick moves; beyond what the answers may take
constexpr double kShortestPulseUs = 500, kLongestPulseUs = 5000;  // of a receiver; what is shorter belongs to the storm
constexpr double kAfterPulseUs = 250;                             // between pulses and bursts
constexpr double kAnswered = 0.5;                                 // of the way from the old width to the new one
constexpr double kSteadyUs = 4;                                   // widths within this while frozen are the same
/// A line's queue on the board holds 62 edges. Two frames' bursts and their pulses fit in, so that a burst played is replaced a whole
/// frame before the next one is due, however slow the serial path.
constexpr double kBurstEdges = 28;
constexpr const char* kMoved = "stick moved in the storm";
constexpr const char* kFollow = "after the storm";

struct Mode {
  const char* text;  ///< mark of the storm before the stick moves
  bool steering;     ///< on the steering input as well
};
constexpr Mode kModes[] = {{"storm on the throttle input", false}, {"storm on both inputs", true}};

/// A burst in every frame, behind the input's own pulse. `before_us`: how late in the frame that pulse may rise.
script::ChannelFault storm(const script::Plan& plan, const script::PlannedCheck& check, const mixer::InputSpec& in, double before_us) {
  script::ChannelFault f = fault_of(in, script::Fault::storm);
  f.width_us = param(check, "level_us");
  f.at_us = in.high_us + plan.frame.jitter_us + kAfterPulseUs;
  const double room = plan.frame.period_us - plan.frame.dither_us - before_us - f.at_us - kAfterPulseUs;
  const double for_us = std::min({param(check, "burst_us"), room, kBurstEdges * f.width_us});
  f.for_us = std::max(2 * f.width_us, for_us);
  return f;
}

Result<script::StickScript> compose(const script::Plan& plan, const script::PlannedCheck& check, std::uint64_t seed) {
  Sticks sticks(plan, check.name, seed);
  const double low = param(check, "drive_low_percent"), high = param(check, "drive_high_percent");
  const auto stormy = [&](const Mode& mode, double throttle, double ms, const char* mark) {
    auto& move = sticks.hold(throttle, 0, ms, mark);
    move.faults.push_back(storm(plan, check, plan.spec.throttle, kAfterPulseUs));
    if (mode.steering) move.faults.push_back(storm(plan, check, plan.spec.steering, 2 * kAfterPulseUs + plan.spec.throttle.high_us));
  };
  for (const Mode& mode : kModes) {
    sticks.arm().hold(low, 0, param(check, "drive_ms"), "drive");
    stormy(mode, low, kFirstStormMs, mode.text);
    const double answer = std::max(param(check, "frozen_ms"), plan.spec.loss.safe_within_ms - kFirstStormMs);
    stormy(mode, high, answer + param(check, "frozen_ms") + kSpareMs, kMoved);
    sticks.hold(0, 0, plan.spec.arm.neutral_ms + kArmMarginMs, "neutral");
    sticks.hold(high, 0, param(check, "follow_ms") + kSpareMs, kFollow);
  }
  sticks.hold(0, 0, param(check, "drive_ms"), "back to neutral");
  return sticks.take();
}

/// What a receiver said on this input in a stretch, us: the median of its pulses, without the storm's; nothing when there are none.
double said(const Traffic& t, const PulseTrain& input, BoardTime begin, BoardTime end) {
  std::vector<double> us;
  for (const Pulse& p : input.falling_in(begin, end))
    if (t.us(p) > kShortestPulseUs && t.us(p) < kLongestPulseUs) us.push_back(t.us(p));
  return statistics::summarise(us).median;  // 0 without pulses
}

mixer::Outputs asked(const Context& c, const Traffic& t, BoardTime begin, BoardTime end) {
  return mixer::expected(c.plan.spec, said(t, t.throttle(), begin, end), said(t, t.steering(), begin, end));
}

/// One storm, as one output answered it.
struct Answer {
  const Traffic* traffic;
  Side side;
  BoardTime storm, moved, end, follow, follow_end;
  std::int64_t pulses{0};   ///< while the stick had moved
  double unanswered_ms{0};  ///< longest time there without following and without being safe
  BoardTime unanswered_from;
  double spread_us{0};  ///< of the widths in that time
  std::int64_t unanswered_pulses{0};
  double follow_ms{0};  ///< from the stick's move after the storm to following it
  bool followed{false};
};

/// Longest stretch of (from, end] without an answer; `ok` says whether a pulse is one.
template <class Ok>
void watch(const Context& c, Answer& a, BoardTime from, Ok ok) {
  const Traffic& t = *a.traffic;
  BoardTime last = from;
  const auto close = [&](BoardTime now) {
    if (const double ms = t.ms(now - last); ms > a.unanswered_ms) a.unanswered_ms = ms, a.unanswered_from = last;
    last = now;
  };
  const auto pulses = t.output(a.side).falling_in(a.moved, a.end);
  a.pulses = static_cast<std::int64_t>(pulses.size());
  BoardTime previous = a.moved;
  for (const Pulse& p : pulses) {
    const bool silence = t.ms(p.fall - previous) > 2 * c.plan.spec.frame.period_high_ms;
    if (silence && c.plan.spec.loss.pulses_may_stop && p.fall > last) last = p.fall;
    if (p.fall > last && ok(p)) close(p.fall);
    previous = p.fall;
  }
  const bool silent = t.ms(a.end - previous) > 2 * c.plan.spec.frame.period_high_ms;
  if (a.end > last && !(silent && c.plan.spec.loss.pulses_may_stop)) close(a.end);
  std::vector<double> us;
  for (const Pulse& p : t.output(a.side).within(a.unanswered_from, a.unanswered_from + t.ticks_ms(a.unanswered_ms))) us.push_back(t.us(p));
  const statistics::Summary s = statistics::summarise(us);
  a.spread_us = s.max - s.min, a.unanswered_pulses = s.samples;
}

double of(const mixer::Outputs& y, Side s) { return s == Side::left ? y.left_us : y.right_us; }

Answer answer(const Context& c, const Traffic& t, Side side, const capture::Mark& storm, const capture::Mark& moved,
              const capture::Mark& follow) {
  Answer a{&t, side, storm.at, moved.at, t.end_of(moved), follow.at, t.end_of(follow), 0, 0, moved.at, 0, 0, 0, false};
  const double old = of(asked(c, t, storm.at, moved.at), side), now = of(asked(c, t, moved.at, a.end), side);
  const double neutral = neutral_of(c.plan, side), half = c.plan.spec.loss.safe_half_us;
  const auto answers = [&](const Pulse& p) { return (t.us(p) - old) / (now - old) >= kAnswered; };
  const auto safe = [&](const Pulse& p) { return std::abs(t.us(p) - neutral) <= half + t.width_uncertainty(p); };
  // A trip on the storm's begin may take as long as any loss.
  const BoardTime due = storm.at + t.ticks_ms(c.plan.spec.loss.safe_within_ms - param(c.check, "frozen_ms"));
  watch(c, a, std::max(moved.at, due), [&](const Pulse& p) { return safe(p) || answers(p); });
  const double again = of(asked(c, t, follow.at, a.follow_end), side);
  a.follow_ms = t.ms(a.follow_end - follow.at);
  for (const Pulse& p : t.output(side).falling_in(follow.at, a.follow_end)) {
    if ((t.us(p) - neutral) / (again - neutral) < kAnswered) continue;
    a.follow_ms = t.ms(p.fall - follow.at), a.followed = true;
    break;
  }
  return a;
}

std::vector<Answer> answers(const Context& c, const std::vector<Traffic>& all, const Mode& mode) {
  std::vector<Answer> found;
  for (const Traffic& t : all)
    for (const auto* storm : t.marks(mode.text)) {
      const auto next = [&](const char* label) {
        for (const auto* m : t.marks(label))
          if (m->at > storm->at) return m;
        return static_cast<const capture::Mark*>(nullptr);
      };
      const auto *moved = next(kMoved), *follow = next(kFollow);
      if (!moved || !follow) continue;
      for (const Side s : kSides) found.push_back(answer(c, t, s, *storm, *moved, *follow));
    }
  return found;
}

/// Edges of the storm that the bench sent on the throttle's line.
std::int64_t storm_edges(const Traffic& t, BoardTime begin, BoardTime end) {
  std::int64_t n = 0;
  for (const Pulse& p : t.throttle().falling_in(begin, end)) n += t.us(p) < kShortestPulseUs ? 2 : 0;
  return n;
}

void name_causes(const Context& c, const std::vector<Answer>& all, Findings& f) {
  std::int64_t frozen = 0, followed = 0, steady = 0, silent = 0;
  double longest = 0, spread = 0;
  for (const Answer& a : all) {
    const bool stuck = a.unanswered_ms > param(c.check, "frozen_ms");
    frozen += stuck;
    if (!stuck) continue;
    followed += a.followed;
    steady += a.unanswered_pulses > 2 && a.spread_us <= kSteadyUs;
    silent += a.unanswered_pulses <= 2;
    longest = std::max(longest, a.unanswered_ms), spread = std::max(spread, a.spread_us);
  }
  if (frozen == 0) return;
  const std::string of_n = whole(frozen) + " of " + whole(static_cast<std::int64_t>(all.size())) + " outputs did not answer for up to " +
                           num(longest, 0) + " ms of storm";
  if (followed < frozen && steady > 0)
    f.causes.push_back({"live-but-frozen", 0.5 + 0.45 * static_cast<double>(frozen - followed) / static_cast<double>(frozen),
                        of_n + "; their pulses went on within " + num(spread) + " us, and " + whole(frozen - followed) +
                            " did not follow after the storm either"});
  if (followed > 0)
    f.causes.push_back({"storm-lockout", 0.5 + 0.45 * static_cast<double>(followed) / static_cast<double>(frozen),
                        of_n + ", " + (silent > 0 ? whole(silent) + " of them silent, " : "") + "and " + whole(followed) +
                            " followed again once it was over"});
}

void judge_mode(const Context& c, const Mode& mode, const std::vector<Answer>& all, Findings& f) {
  const double frozen_ms = param(c.check, "frozen_ms"), follow_ms = param(c.check, "follow_ms");
  const Answer *longest = nullptr, *latest = nullptr;
  std::int64_t pulses = 0, edges = 0;
  for (const Answer& a : all) {
    if (!longest || a.unanswered_ms > longest->unanswered_ms) longest = &a;
    if (!latest || a.followed < latest->followed || (a.followed == latest->followed && a.follow_ms > latest->follow_ms)) latest = &a;
    pulses += a.pulses;
    edges = std::max(edges, storm_edges(*a.traffic, a.storm, a.end));
  }
  const double u = c.plan.spec.frame.period_high_ms / 2;  // between two pulses nothing is known
  const std::string what = mode.text;
  f.measures.push_back(measure("longest without answer, " + what, longest ? longest->unanswered_ms : 0, {}, frozen_ms, u, "ms", pulses));
  if (longest && edges == 0) withhold(f.measures.back());
  f.measures.back().note = edges == 0 ? "no storm was sent" : whole(edges) + " edges of the storm on the throttle's line";
  Measure again = measure("until it follows again, " + what, latest ? latest->follow_ms : 0, {}, follow_ms, latest ? 0.01 : 0, "ms",
                          static_cast<std::int64_t>(all.size()));
  if (latest && !latest->followed) {
    again.note = "did not follow as long as was watched";
    withhold_pass(again);
  }
  f.measures.push_back(std::move(again));
  if (!longest) return;
  const bool frozen = f.measures[f.measures.size() - 2].verdict == Verdict::fail, lost = f.measures.back().verdict == Verdict::fail;
  const Traffic& t = *longest->traffic;
  f.evidence.push_back(t.span(longest->unanswered_from, longest->unanswered_from + t.ticks_ms(longest->unanswered_ms),
                              what + ", " + name(longest->side) + " without answer for " + num(longest->unanswered_ms, 0) + " ms", frozen));
  f.evidence.back().severity = longest->unanswered_ms;
  f.evidence.push_back(t.span(latest->follow, latest->follow_end, what + ", after it", lost));
  f.pictures.push_back(time_picture(t, longest->storm - t.ticks_ms(200), longest->follow_end, what));
  auto& p = f.pictures.back();
  p.bands.push_back({200, t.ms(longest->end - longest->storm) + 200, "storm", false});
  for (auto& s : p.series)  // the storm's own spikes are no pulse of the receiver
    for (std::size_t i = 0; i < s.y.size(); ++i)
      if (s.role == Series::Role::input && s.y[i] < kShortestPulseUs) s.y[i] = std::nan("");
}

CheckResult judge(const Context& c) {
  auto [all, stop] = open(c, kNeeded);
  if (stop) return *stop;
  Findings f;
  std::vector<Answer> every;
  for (const Mode& mode : kModes) {
    const auto found = answers(c, all, mode);
    judge_mode(c, mode, found, f);
    every.insert(every.end(), found.begin(), found.end());
  }
  name_causes(c, every, f);
  f.when_passed = "In a storm of edges the outputs go safe or keep following, and they follow again after it.";
  f.when_failed = "The ESC gets pulses of a program that no longer listens to the stick: the vehicle drives on by itself.";
  return conclude(c, std::move(f));
}

}  // namespace

const CheckKind kFrozenOutput{"frozen-output", "a storm of edges on the inputs: the outputs must go on following, or go safe", compose,
                              judge};

}  // namespace midstick::judge
