// Gaps: longer and longer runs of lost frames while driving; the fewest that trip the failsafe must be more than the spec tolerates
// (catalogue fault 26; figures common practice, no source).
//
// After a trip the sticks must rest at neutral before the outputs follow again. That is by design; so the ladder of gaps ends, for the
// judge, with the first that trips. One gap of 68 ms follows after arming anew: a loss time of 50 ms was seen to trip on it.
#include <algorithm>
#include <cmath>

#include "daemon/judge/checks/checks.hpp"
#include "daemon/judge/conclude.hpp"
#include "daemon/judge/pictures.hpp"
#include "daemon/judge/safe.hpp"
#include "daemon/judge/steady.hpp"
#include "daemon/judge/sticks.hpp"
#include "daemon/judge/text.hpp"

namespace midstick::judge {
namespace {

constexpr std::int64_t kNeeded = 10;
constexpr double kSteering = 20;  // percent
constexpr double kOddGapMs = 68;
constexpr int kLastPulses = 3;
constexpr double kLeastWayUs = 20;  // an output nearer to neutral than this shows no trip
constexpr const char* kGap = "frames lost";
constexpr const char* kOddGap = "gap of 68 ms";
constexpr const char* kAfter = "after the gap";

double frame_ms(const script::Plan& plan) { return plan.frame.period_us / 1e3; }

/// Each number up to 8, then every second, then every fourth: fine where limits are, and soon at the end.
std::vector<int> ladder(int most) {
  std::vector<int> frames;
  for (int n = 1; n < most; n += n < 8 ? 1 : n < 16 ? 2 : 4) frames.push_back(n);
  frames.push_back(most);
  return frames;
}

/// The frame that carries no pulse for the odd gap: with the one before it, 68 ms long. Nothing when a frame cannot be that long.
std::optional<script::ReceiverFrame> odd_frame(const script::Plan& plan) {
  script::ReceiverFrame frame = exact_frames(plan);
  frame.period_us = kOddGapMs * 1e3 - plan.frame.period_us;
  if (frame.period_us < plan.frame.period_us || frame.period_us > 50'000) return {};
  return frame;
}

Result<script::StickScript> compose(const script::Plan& plan, const script::PlannedCheck& check, std::uint64_t seed) {
  Sticks sticks(plan, check.name, seed);
  const double throttle = param(check, "drive_percent"), drive_ms = param(check, "drive_ms"), after = settled_after_ms(plan, 2);
  sticks.arm().hold(throttle, kSteering, drive_ms, "drive");
  for (const int frames : ladder(count_param(check, "frames"))) {
    sticks.silent(frames * frame_ms(plan), kGap).frame = exact_frames(plan);
    sticks.hold(throttle, kSteering, after, kAfter);
  }
  if (const auto frame = odd_frame(plan)) {
    sticks.arm().hold(throttle, kSteering, drive_ms, "drive");
    auto& gap = sticks.silent(frame_ms(plan), kOddGap);
    gap.frame = frame, gap.for_ms = frame->period_us / 1e3;
    sticks.hold(throttle, kSteering, after, kAfter);
  }
  sticks.hold(0, 0, drive_ms, "back to neutral");
  return sticks.take();
}

/// One gap, as the outputs answered it.
struct Gap {
  const Traffic* traffic;
  BoardTime begin, end;  ///< last pulse before it; end of the watch
  double silence_ms{0};  ///< from fall to fall
  int lost{0};           ///< frames
  bool tripped{false};   ///< an output left for neutral, or fell silent
  bool thrown{false};    ///< an output went further from neutral than before, or to the other side of it
};

bool silent_for_long(const Context& c, const Traffic& t, Side side, BoardTime begin, BoardTime end) {
  const auto pulses = t.output(side).falling_in(begin, end);
  BoardTime previous = begin;
  for (const Pulse& p : pulses) {
    if (t.ms(p.fall - previous) > 2 * c.plan.spec.frame.period_high_ms) return true;
    previous = p.fall;
  }
  return t.ms(end - previous) > 2 * c.plan.spec.frame.period_high_ms;
}

void watch(const Context& c, Gap& g, Side side) {
  const Traffic& t = *g.traffic;
  const double last = mean_before(t, side, g.begin, kLastPulses), neutral = neutral_of(c.plan, side), way = last - neutral;
  g.tripped = g.tripped || silent_for_long(c, t, side, g.begin, g.end);
  if (std::abs(way) < kLeastWayUs) return;
  for (const Pulse& p : t.output(side).falling_in(g.begin, g.end)) {
    const double share = (t.us(p) - neutral) / way;
    g.tripped = g.tripped || share < 0.5;
    g.thrown = g.thrown || std::abs(share - 0.5) > 1;
  }
}

/// Gaps with this mark that hit a driven controller, up to and with the first that trips.
std::vector<Gap> gaps(const Context& c, const std::vector<Traffic>& all, const char* label) {
  std::vector<Gap> found;
  for (const Traffic& t : all)
    for (const auto* mark : t.marks(label)) {
      if (!driven(c.plan, t, mark->at)) break;
      const Pulse* before = last_valid(t, t.throttle(), mark->at);
      const auto after = t.throttle().falling_in(mark->at, t.segment().end);
      const auto* rest = next_mark(t, kAfter, mark->at);
      if (!before || after.empty() || !rest) break;
      Gap g{&t, before->fall, t.end_of(*rest), t.ms(after.front().fall - before->fall), 0, false, false};
      g.lost = static_cast<int>(std::lround(g.silence_ms / frame_ms(c.plan))) - 1;
      for (const Side s : kSides) watch(c, g, s);
      found.push_back(g);
      if (g.tripped || g.thrown) break;
    }
  return found;
}

/// Frames that must be lost before it may trip: one more than tolerated, but no more than fit in the spec's time to safe.
int least_to_trip(const script::Plan& plan) {
  const int in_time = static_cast<int>(std::floor(plan.spec.loss.safe_within_ms / frame_ms(plan)));
  return std::min(plan.spec.loss.tolerate_frames + 1, std::max(1, in_time));
}

void judge_ladder(const Context& c, const std::vector<Gap>& found, Findings& f) {
  const int least = least_to_trip(c.plan);
  const Gap* worst = nullptr;
  int longest = 0;
  for (const Gap& g : found) {
    longest = std::max(longest, g.lost);
    if ((g.tripped || g.thrown) && (!worst || g.lost < worst->lost)) worst = &g;
  }
  Measure m = measure("fewest lost frames that trip", worst ? worst->lost : longest + 1, least, {}, 0, "frames",
                      static_cast<std::int64_t>(found.size()));
  if (worst)
    m.note = "tripped " + num(worst->silence_ms, 0) + " ms from the last pulse to the next";
  else if (!found.empty())
    m.note = "none tripped; the longest gap was of " + whole(longest) + " frames";
  if (!worst && longest < std::max(least, count_param(c.check, "frames") - 1)) withhold(m);  // cut short
  const bool failing = m.verdict == Verdict::fail;
  f.measures.push_back(std::move(m));
  if (failing)
    f.causes.push_back(worst->thrown
                           ? Cause{"timeout-as-pulse", 0.9, "an output was thrown out when " + whole(worst->lost) + " frames were lost"}
                           : Cause{"loss-timeout-short", 0.9,
                                   "tripped on " + whole(worst->lost) + " lost frames, " + num(worst->silence_ms, 0) +
                                       " ms from pulse to pulse; the mixer spec tolerates " + whole(least - 1)});
}

void judge_odd(const Context& c, const std::vector<Gap>& found, Findings& f) {
  if (found.empty() || (c.plan.spec.loss.tolerate_frames + 1) * frame_ms(c.plan) < kOddGapMs) return;
  const auto tripped = std::count_if(found.begin(), found.end(), [](const Gap& g) { return g.tripped || g.thrown; });
  f.measures.push_back(none_allowed("trips on a gap of 68 ms", tripped, static_cast<std::int64_t>(found.size()), "gaps"));
  if (tripped > 0) f.causes.push_back({"loss-timeout-short", 0.8, "tripped on a gap of 68 ms"});
}

CheckResult judge(const Context& c) {
  auto [all, stop] = open(c, kNeeded);
  if (stop) return *stop;
  const auto steps = gaps(c, all, kGap), odd = gaps(c, all, kOddGap);
  if (steps.empty()) return undecided(c, "the outputs were not driven when frames were lost, or none were lost.");
  Findings f;
  judge_ladder(c, steps, f);
  judge_odd(c, odd, f);
  const Gap& last = steps.back();
  const bool failing = overall(f.measures) == Verdict::fail;
  for (const Gap& g : steps)
    if (&g == &last || g.tripped)
      f.evidence.push_back(g.traffic->span(g.begin, g.end, whole(g.lost) + " frames lost", failing && g.tripped));
  for (const Gap& g : odd) f.evidence.push_back(g.traffic->span(g.begin, g.end, kOddGap, failing && g.tripped));
  const BoardTime lead = last.begin - last.traffic->ticks_ms(200);
  Picture p = time_picture(*last.traffic, std::max(lead, last.traffic->segment().begin), last.end,
                           last.tripped ? "The shortest gap that trips" : "The longest gap");
  p.bands.push_back({200, 200 + last.silence_ms, "frames lost", failing});
  f.pictures.push_back(std::move(p));
  f.when_passed = "Up to " + whole(c.plan.spec.loss.tolerate_frames) + " lost frames do not stop the vehicle: " +
                  (last.tripped ? whole(last.lost) + " trip it." : "none did, up to " + whole(last.lost) + ".");
  f.when_failed = "The vehicle stops, and waits for neutral, at gaps that any radio link has.";
  return conclude(c, std::move(f));
}

}  // namespace

const CheckKind kGaps{"gaps", "growing numbers of lost frames: the fewest that trip the failsafe", compose, judge};

}  // namespace midstick::judge
