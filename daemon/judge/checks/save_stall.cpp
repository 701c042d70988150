// Settings-save stall: sticks to their ends, then a long rest at half speed and one at neutral, in which a controller may store what it has
// learnt (catalogue fault 38; figures common practice, no source). A byte takes 3.4 to 5 ms to store, a sector more than a second:
// neither may stretch a frame or a pulse.
#include <algorithm>
#include <cmath>

#include "daemon/judge/checks/checks.hpp"
#include "daemon/judge/conclude.hpp"
#include "daemon/judge/extreme.hpp"
#include "daemon/judge/pictures.hpp"
#include "daemon/judge/safe.hpp"
#include "daemon/judge/steady.hpp"
#include "daemon/judge/sticks.hpp"
#include "daemon/judge/text.hpp"
#include "daemon/judge/uncertainty.hpp"

namespace midstick::judge {
namespace {

constexpr std::int64_t kNeeded = 50;   // output pulses
constexpr double kFrameShare = 1.5;    // of the spec's longest frame
constexpr double kNeutralShare = 0.3;  // of the rest, at neutral
constexpr double kOneSaveMs = 500;     // a save is one event in a rest; wrong frames further apart are a rhythm
constexpr std::size_t kSpansShown = 4;
constexpr const char* kRest = "rest at speed";
constexpr const char* kNeutral = "rest at neutral";

Result<script::StickScript> compose(const script::Plan& plan, const script::PlannedCheck& check, std::uint64_t seed) {
  Sticks sticks(plan, check.name, seed);
  const double settle = settled_after_ms(plan, 2), rest = param(check, "rest_ms");
  sticks.arm();
  for (const auto& [throttle, steering] : {std::pair{100.0, 0.0}, {0.0, 100.0}, {-100.0, 0.0}, {0.0, -100.0}})
    sticks.hold(throttle, steering, settle, "to the ends");
  sticks.hold(param(check, "drive_percent"), 0, settle + rest, kRest);
  sticks.hold(0, 0, settle + kNeutralShare * rest, kNeutral);
  return sticks.take();
}

struct Stall {
  const Traffic* traffic;
  BoardTime begin, end;
  std::string text;
};

/// Frames of one output over a rest, and its widths once settled.
struct Rest {
  double longest_ms{0}, uncertainty_ms{0};
  std::int64_t frames{0};
  std::vector<Stall> stalls;
  double spread_ms{0};  ///< between the first and the last of one rest
};

void watch_frames(const Context& c, const Traffic& t, Side side, const capture::Mark& mark, Rest& r) {
  const double limit = kFrameShare * c.plan.spec.frame.period_high_ms;
  const BoardTime end = t.end_of(mark);
  const Pulse* before = t.output(side).last_fallen(mark.at);
  std::optional<BoardTime> previous = before ? std::optional(before->rise) : std::nullopt;
  const auto take = [&](BoardTime rise, std::uint16_t half) {
    if (previous) {
      const double ms = t.ms(rise - *previous), u = span_uncertainty_us(t.capture(), rise - *previous, half, half) / 1e3;
      ++r.frames;
      if (ms > r.longest_ms) r.longest_ms = ms, r.uncertainty_ms = u;
      if (ms - u > limit)
        r.stalls.push_back(
            {&t, *previous, rise, "frame of " + num(ms) + " ms, " + num(t.ms(*previous - mark.at) / 1e3) + " s into the " + mark.label});
    }
    previous = rise;
  };
  for (const Pulse& p : t.output(side).falling_in(mark.at, end)) take(p.rise, p.rise_half);  // the one under way at the mark as well
  if (previous && t.ms(end - *previous) > limit) take(end, 1);                               // silent to the end
}

void watch_widths(const Context& c, const Traffic& t, Side side, const capture::Mark& mark, Extreme& off, Rest& r) {
  const BoardTime begin = mark.at + t.ticks_ms(settled_after_ms(c.plan, 2)), end = t.end_of(mark);
  const auto rest = rest_us(t, side, begin, end);
  if (!rest) return;
  const double allowed = param(c.check, "width_us");
  for (const Pulse& p : t.output(side).within(begin, end)) {
    const double away = t.us(p) - *rest;
    off.add(t, p, away);
    if (std::abs(away) > allowed + t.width_uncertainty(p))
      r.stalls.push_back(
          {&t, p.rise, p.fall, num(away, 0) + " us off, " + num(t.ms(p.rise - mark.at) / 1e3) + " s into the " + mark.label});
  }
}

void judge_side(const Context& c, const std::vector<Traffic>& all, Side side, Findings& f) {
  const double allowed = param(c.check, "width_us");
  Rest r;
  Extreme off(-allowed, allowed);
  std::int64_t rests = 0;
  for (const Traffic& t : all)
    for (const char* label : {kRest, kNeutral})
      for (const auto* mark : t.marks(label)) {
        ++rests;
        const std::size_t before = r.stalls.size();
        watch_frames(c, t, side, *mark, r);
        watch_widths(c, t, side, *mark, off, r);
        auto [first, last] = std::minmax_element(r.stalls.begin() + static_cast<std::ptrdiff_t>(before), r.stalls.end(),
                                                 [](auto& a, auto& b) { return a.begin < b.begin; });
        if (first != r.stalls.end()) r.spread_ms = std::max(r.spread_ms, t.ms(last->begin - first->begin));
      }
  const std::string who = name(side);
  f.measures.push_back(measure(who + " longest frame", r.longest_ms, {}, kFrameShare * c.plan.spec.frame.period_high_ms, r.uncertainty_ms,
                               "ms", r.frames, kNeeded));
  f.measures.push_back(off.as_measure(who + " furthest from rest", kNeeded));
  for (const Stall& s : r.stalls)
    if (f.evidence.size() < kSpansShown) f.evidence.push_back(s.traffic->span(s.begin, s.end, s.text + ", " + who, true));
  const auto stalls = static_cast<std::int64_t>(r.stalls.size());
  if (stalls > 0 && r.spread_ms <= kOneSaveMs)
    f.causes.push_back({"save-stall", 0.9,
                        r.stalls.front().text + "; " + whole(stalls) + " wrong frames or widths in " + whole(rests) + " rests, within " +
                            num(r.spread_ms, 0) + " ms of one another in each"});
}

CheckResult judge(const Context& c) {
  auto [all, stop] = open(c, kNeeded);
  if (stop) return *stop;
  for (const Traffic& t : all)
    for (const auto* mark : t.marks(kRest))
      if (!driven(c.plan, t, mark->at + t.ticks_ms(settled_after_ms(c.plan, 2))))
        return undecided(c, "the outputs were not driven during the rest at speed.");
  Findings f;
  for (const Side s : kSides) judge_side(c, all, s, f);
  if (f.causes.size() > 1) f.causes.resize(1);  // one stall shows on both outputs
  const bool failing = overall(f.measures) == Verdict::fail;
  for (const Traffic& t : all)
    for (const auto* mark : t.marks(kRest)) {
      if (f.evidence.empty()) f.evidence.push_back(t.span(mark->at, t.end_of(*mark), kRest, false));
      if (!f.pictures.empty()) continue;
      Picture p = time_picture(t, mark->at, t.end_of(*mark), "A rest at speed");
      p.series.erase(p.series.begin(), p.series.begin() + 2);  // the inputs rest; leave the scale to the outputs
      for (const Span& s : f.evidence)
        if (failing && s.begin >= mark->at && s.end <= t.end_of(*mark))
          p.bands.push_back({t.ms(s.begin - mark->at), t.ms(s.end - mark->at), "stall", true});
      f.pictures.push_back(std::move(p));
    }
  f.when_passed = "Through long rests, at speed and at neutral, every frame kept its length and every pulse its width.";
  f.when_failed = "While settings are stored the motors get wrong pulses, or none.";
  return conclude(c, std::move(f));
}

}  // namespace

const CheckKind kSaveStall{"save-stall", "a long rest, in which settings may be saved: frames keep their rhythm", compose, judge};

}  // namespace midstick::judge
