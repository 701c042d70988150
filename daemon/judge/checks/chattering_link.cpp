// Chattering link: 100 ms of signal and 100 ms without, then random frame loss, sticks held off centre; then glimpses of neutral too short
// to arm (catalogue fault 27; figures common practice, no source).
//
// Once an output has gone safe it must stay so, since the sticks were never at neutral for the arming time: one change from live to safe is
// allowed in each stretch, and none back. A controller may also ride the chatter out; whether a gap may trip it is the gaps check's matter.
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
constexpr double kThrottle = 60, kSteering = 20;  // percent
constexpr double kBurstMs = 100;
constexpr double kGlimpseShare = 0.4;  // of the arming time
constexpr int kLastPulses = 3;
constexpr int kSamePulses = 2;      // on the other side in a row: a change, no stray pulse
constexpr double kLeastWayUs = 20;  // from neutral; an output nearer than this shows neither state
constexpr const char* kOnOff = "100 ms on, 100 ms off";
constexpr const char* kGlimpses = "glimpses of neutral";
constexpr const char* kDrive = "drive";

std::string loss_mark(double percent) { return num(percent, 0) + " % of frames lost"; }

/// `ms` in which each frame is lost with this chance, both inputs alike, as a radio link loses them.
void random_loss(const script::Plan& plan, Sticks& sticks, double percent, double ms, script::Draw& draw) {
  const double frame = plan.frame.period_us / 1e3;
  const int frames = static_cast<int>(std::ceil(ms / frame));
  std::string mark = loss_mark(percent);
  for (int i = 0; i < frames;) {
    const auto lost = [&] { return draw.within(0, 999) < std::llround(10 * percent); };
    const bool gone = lost();
    int run = 1;
    while (i + run < frames && lost() == gone) ++run;  // the draw that ends a run is spent; the share hardly changes
    auto& move = gone ? sticks.silent(run * frame, mark) : sticks.hold(kThrottle, kSteering, run * frame, mark);
    move.frame = exact_frames(plan);
    mark.clear(), i += run;
  }
}

void glimpses(const script::Plan& plan, Sticks& sticks, double ms) {
  const double glimpse = kGlimpseShare * plan.spec.arm.neutral_ms;
  if (glimpse < 3 * plan.frame.period_us / 1e3) return;  // whole frames would come too near to the arming time
  sticks.silent(plan.spec.loss.safe_within_ms + kBurstMs, "lost");
  for (double at = 0; at < ms; at += glimpse + 3 * kBurstMs) {
    sticks.hold(0, 0, glimpse, at == 0 ? kGlimpses : "");
    sticks.silent(kBurstMs);
    sticks.hold(kThrottle, kSteering, kBurstMs);
    sticks.silent(kBurstMs);
  }
}

Result<script::StickScript> compose(const script::Plan& plan, const script::PlannedCheck& check, std::uint64_t seed) {
  Sticks sticks(plan, check.name, seed);
  script::Draw draw(seed);
  const double ms = param(check, "for_ms"), drive = settled_after_ms(plan) + param(check, "drive_ms");
  sticks.arm().hold(kThrottle, kSteering, drive, kDrive);
  for (double at = 0; at < ms; at += 2 * kBurstMs) {
    sticks.silent(kBurstMs, at == 0 ? kOnOff : "");
    sticks.hold(kThrottle, kSteering, kBurstMs);
  }
  for (const auto& share : check.params.at("lost_percent")) {
    sticks.arm().hold(kThrottle, kSteering, drive, kDrive);
    random_loss(plan, sticks, share.get<double>(), ms, draw);
  }
  glimpses(plan, sticks, ms);
  sticks.hold(0, 0, drive, "back to neutral");
  return sticks.take();
}

/// One stretch of chatter, one output.
struct Stretch {
  const Traffic* traffic;
  Side side;
  std::string label;
  BoardTime begin, end;
  int to_safe{0}, to_live{0};
  std::optional<BoardTime> lurch;  ///< the first return to live
};

/// Changes between live and safe. Live: more than half as far from neutral as when driven.
void count_changes(Stretch& s, double driven_us, double neutral, bool live) {
  const Traffic& t = *s.traffic;
  int other = 0;
  for (const Pulse& p : t.output(s.side).falling_in(s.begin, s.end)) {
    const bool now = (t.us(p) - neutral) / (driven_us - neutral) > 0.5;
    other = now == live ? 0 : other + 1;
    if (other < kSamePulses) continue;
    live = now, other = 0;
    ++(live ? s.to_live : s.to_safe);
    if (live && !s.lurch) s.lurch = p.fall;
  }
}

std::vector<std::string> labels(const Context& c) {
  std::vector<std::string> all{kOnOff};
  for (const auto& share : c.check.params.at("lost_percent")) all.push_back(loss_mark(share.get<double>()));
  all.emplace_back(kGlimpses);
  return all;
}

std::vector<Stretch> stretches(const Context& c, const std::vector<Traffic>& all) {
  std::vector<Stretch> found;
  for (const Traffic& t : all) {
    double driven_us[2] = {NAN, NAN};
    for (const auto& label : labels(c))
      for (const auto* mark : t.marks(label)) {
        const bool glimpse = label == kGlimpses;
        if (t.throttle().falling_in(mark->at, t.end_of(*mark)).empty() || (!glimpse && !driven(c.plan, t, mark->at))) continue;
        for (const Side s : kSides) {
          double& level = driven_us[static_cast<int>(s)];
          if (!glimpse) level = mean_before(t, s, mark->at, kLastPulses);
          const double neutral = neutral_of(c.plan, s);
          if (std::isnan(level) || std::abs(level - neutral) < kLeastWayUs) continue;
          Stretch stretch{&t, s, label, mark->at, t.end_of(*mark), 0, 0, {}};
          const double before = mean_before(t, s, mark->at, 1);
          if (glimpse && std::abs(before - neutral) > std::abs(level - neutral) / 2) continue;  // never went safe: signal loss's matter
          count_changes(stretch, level, neutral, !glimpse);
          found.push_back(stretch);
        }
      }
  }
  return found;
}

bool played(const std::vector<Traffic>& all, const std::string& label) {
  return std::any_of(all.begin(), all.end(), [&](const Traffic& t) { return !t.marks(label).empty(); });
}

void name_causes(const std::vector<Stretch>& all, Findings& f) {
  int off_centre = 0, glimpses = 0;
  for (const Stretch& s : all) (s.label == kGlimpses ? glimpses : off_centre) += s.to_live;
  if (off_centre > 0)
    f.causes.push_back({"no-rearm", 0.9, whole(off_centre) + " times live again with the sticks never at neutral"});
  else if (glimpses > 0)
    f.causes.push_back({"rearm-too-soon", 0.9, whole(glimpses) + " times live again after a glimpse of neutral, never without one"});
}

CheckResult judge(const Context& c) {
  auto [all, stop] = open(c, kNeeded);
  if (stop) return *stop;
  const auto found = stretches(c, all);
  if (found.empty()) return undecided(c, "the outputs were not driven when the link began to chatter, or it never did.");
  Findings f;
  const Stretch* worst = &found.front();
  for (const auto& label : labels(c)) {
    std::int64_t back = 0, n = 0;
    int to_safe = 0;
    for (const Stretch& s : found) {
      if (s.label != label) continue;
      ++n, back += s.to_live, to_safe = std::max(to_safe, s.to_safe);
      if (s.to_live > worst->to_live) worst = &s;
      if (s.side == Side::left || s.lurch)
        f.evidence.push_back(s.traffic->span(s.begin, s.end, label + ", " + name(s.side), s.to_live > 0));
    }
    if (n == 0 && !played(all, label)) continue;
    f.measures.push_back(none_allowed("returns to live, " + label, back, n, "stretches"));
    f.measures.back().note += to_safe > 0 ? "; went safe, and had to stay so" : label == kGlimpses ? "" : "; rode it out";
  }
  name_causes(found, f);
  f.pictures.push_back(time_picture(*worst->traffic, worst->begin, worst->end, "A chattering link: " + worst->label));
  f.when_passed = "However the link chatters, outputs that have gone safe stay safe until the sticks have been at neutral.";
  f.when_failed = "The vehicle jerks on and off at the edge of radio range.";
  return conclude(c, std::move(f));
}

}  // namespace

const CheckKind kChatteringLink{"chattering-link", "a link that comes and goes: no wandering between safe and live", compose, judge};

}  // namespace midstick::judge
