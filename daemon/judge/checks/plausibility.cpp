// Plausibility: throttle pulses too short and too long to be a stick (catalogue faults 3, 9; figures common practice, no source).
//
// A few frames of each odd width in a steady stream, driving: widths that the spec accepts must show, widths that it rejects must not, and
// between the two the check finds the edge. Then rejected widths alone, for long: they must not keep the link alive. Among those
// are widths that look right once cut to 16 bits: 32768 us and a stick position (counts of 0.5 us), and 65536 us and one (counts of 1 us).
// The latter is longer than the longest receiver frame; it is made of a line held high over two.
#include <algorithm>
#include <cmath>
#include <limits>

#include "daemon/judge/checks/checks.hpp"
#include "daemon/judge/conclude.hpp"
#include "daemon/judge/pictures.hpp"
#include "daemon/judge/safe.hpp"
#include "daemon/judge/steady.hpp"
#include "daemon/judge/sticks.hpp"
#include "daemon/judge/text.hpp"
#include "daemon/script/percent.hpp"

namespace midstick::judge {
namespace {

constexpr std::int64_t kNeeded = 10;                                       // output pulses
constexpr std::int64_t kNeededOdd = 3, kNeededGood = 2, kNeededAlone = 3;  // widths
constexpr double kThrottle = 50;  // percent, steady; steering at centre, so that both outputs are driven
constexpr double kBesideUs = 10;  // off an edge of the spec: more than a controller misreads
constexpr int kBetween = 3;       // widths tried between reject and accept
constexpr double kGapUs = 200, kShortFrameUs = 5000;
constexpr double kSpareMs = 150;  // watched beyond the spec's time to safe
constexpr double kCut[] = {32768, 65536};
constexpr double kLongestFrameUs = 50'000;
constexpr int kDrivenPulses = 3;  // before the odd widths, to say what was driven
constexpr double kOddUs = 20;     // off the steady width: an odd pulse
constexpr double kMisreadUs = 10, kMostOfAStep = 0.7;
constexpr const char* kSteady = "steady";
constexpr const char* kOdd = "odd width";
constexpr const char* kDrive = "drive";

std::string alone_mark(double us) { return num(us, 0) + " us only"; }

double steady_us(const script::Plan& plan) { return script::width_of_percent(plan.spec.throttle, kThrottle); }

/// Off an edge of the spec by so much, us, a width is beyond it for a clock that is off as far as the spec allows, too.
double beside_us(const script::Plan& plan, double edge) { return kBesideUs + edge * plan.spec.clock_percent / 100; }

/// The widths nearest to the edges of the window that every controller must reject, us.
std::pair<double, double> rejected_us(const script::Plan& plan) {
  const auto& r = plan.spec.receiver;
  return {r.reject_low_us - beside_us(plan, r.reject_low_us), r.reject_high_us + beside_us(plan, r.reject_high_us)};
}

/// Widths of the first part, us: from the shortest to the longest.
std::vector<double> odd_widths(const script::Plan& plan, const script::PlannedCheck& check) {
  const auto& r = plan.spec.receiver;
  const auto [low, high] = rejected_us(plan);
  std::vector<double> all{low, r.accept_low_us + beside_us(plan, r.accept_low_us), r.accept_high_us - beside_us(plan, r.accept_high_us),
                          high};
  for (int i = 1; i <= kBetween; ++i) {
    const double share = static_cast<double>(i) / (kBetween + 1);
    all.push_back(r.reject_low_us + share * (r.accept_low_us - r.reject_low_us));
    all.push_back(r.accept_high_us + share * (r.reject_high_us - r.accept_high_us));
  }
  for (const auto& us : check.params.at("widths_us"))
    if (us.get<double>() < low || us.get<double>() > high) all.push_back(us);
  std::sort(all.begin(), all.end());
  return all;
}

/// Widths of the second part, us.
std::vector<double> alone_widths(const script::Plan& plan) {
  const auto [low, high] = rejected_us(plan);
  std::vector<double> all{low, high};
  for (const double cut : kCut) all.push_back(cut + steady_us(plan));
  return all;
}

/// Frames of an odd width in a row: enough to show through the filter that the spec asks for, too few to be a lost link.
int odd_frames(const script::Plan& plan) {
  return std::max(1, std::min(plan.spec.loss.tolerate_frames, plan.spec.receiver.wild_frames + 2));
}

/// Away from rest by this much an output has obeyed, us. A slewed one comes no further than one output frame lets it before the odd
/// widths are over: most of that is enough then, but no less than what controllers misread.
double obeyed_us(const script::Plan& plan, const script::PlannedCheck& check) {
  const double moved = param(check, "moved_us"), up = plan.spec.throttle.slew_up, down = plan.spec.throttle.slew_down;
  double travels_per_s = std::numeric_limits<double>::infinity();
  for (const double slew : {up, down})
    if (slew > 0) travels_per_s = std::min(travels_per_s, slew);
  const auto& frame = plan.spec.frame;
  const double frame_s = (frame.nominal_ms > 0 ? frame.nominal_ms : frame.period_low_ms) / 1e3;
  const double travel_us = plan.spec.left.high_us - plan.spec.left.neutral_us;
  return std::min(moved, std::max(kMisreadUs, kMostOfAStep * travels_per_s * frame_s * travel_us));
}

/// A frame that holds a throttle pulse of this width and a steering pulse after it.
script::ReceiverFrame frame_for(const script::Plan& plan, double us) {
  auto frame = exact_frames(plan);
  frame.jitter_us = 0;
  frame.phase_us = {{plan.spec.throttle.name, kGapUs}, {plan.spec.steering.name, us + 2 * kGapUs}};
  frame.period_us = std::max(frame.period_us, us + plan.spec.steering.high_us + 4 * kGapUs);
  return frame;
}

void alone(const script::Plan& plan, Sticks& sticks, double us, double ms) {
  const double centre = plan.spec.steering.centre_us;
  const auto frame = frame_for(plan, us);
  if (frame.period_us <= kLongestFrameUs) {
    const double frame_ms = frame.period_us / 1e3;
    auto& move = sticks.hold_us(us, centre, ms, alone_mark(us));
    move.frame = frame, move.for_ms = std::ceil(ms / frame_ms) * frame_ms;
    return;
  }
  // High over two frames: from a gap after the first one's start to a gap before the next frame. Then a short frame without a pulse.
  auto half = frame_for(plan, centre), brief = half;
  half.period_us = (us + 2 * kGapUs) / 2, brief.period_us = std::max(kShortFrameUs, centre + plan.spec.steering.high_us);
  half.phase_us.at(plan.spec.steering.name) = brief.phase_us.at(plan.spec.steering.name) = 2 * kGapUs;
  for (double at = 0; at < ms; at += (2 * half.period_us + brief.period_us) / 1e3) {
    auto& high = sticks.hold(kThrottle, 0, 1, at == 0 ? alone_mark(us) : "");
    high.frame = half, high.for_ms = 2 * half.period_us / 1e3;
    high.faults = {fault_of(plan.spec.throttle, script::Fault::stuck_high)};
    auto& low = sticks.hold(kThrottle, 0, 1, "");
    low.frame = brief, low.for_ms = brief.period_us / 1e3;
    low.faults = {fault_of(plan.spec.throttle, script::Fault::drop)};
  }
}

Result<script::StickScript> compose(const script::Plan& plan, const script::PlannedCheck& check, std::uint64_t seed) {
  Sticks sticks(plan, check.name, seed);
  const double rest = settled_after_ms(plan) + 3 * plan.spec.frame.period_high_ms;
  sticks.arm().hold(kThrottle, 0, rest, kSteady);
  for (int cycle = 0; cycle < count_param(check, "cycles"); ++cycle)
    for (const double us : odd_widths(plan, check)) {
      const auto frame = frame_for(plan, us);
      auto& odd = sticks.hold_us(us, plan.spec.steering.centre_us, 1, kOdd);
      odd.frame = frame, odd.for_ms = odd_frames(plan) * frame.period_us / 1e3;
      sticks.hold(kThrottle, 0, rest, kSteady);
    }
  for (const double us : alone_widths(plan)) {
    sticks.arm().hold(kThrottle, 0, settled_after_ms(plan), kDrive);
    alone(plan, sticks, us, plan.spec.loss.safe_within_ms + kSpareMs);
  }
  sticks.hold(0, 0, rest, "back to neutral");
  return sticks.take();
}

/// One odd width among steady ones.
struct Probe {
  const Traffic* traffic;
  double us;  ///< as sent
  BoardTime begin, end;
  bool obeyed{false};
  double furthest_us{0};
};

std::vector<Probe> probes(const Context& c, const std::vector<Traffic>& all) {
  std::vector<Probe> found;
  for (const Traffic& t : all)
    for (const auto* mark : t.marks(kOdd)) {
      const auto* before = mark_before(t, *mark);
      const auto* after = next_mark(t, kSteady, mark->at);
      if (!before || !after || !driven(c.plan, t, mark->at)) continue;
      Probe p{&t, 0, mark->at, t.end_of(*after), false, 0};
      for (const Pulse& in : t.throttle().falling_in(mark->at, t.end_of(*after)))
        if (std::abs(t.us(in) - steady_us(c.plan)) > kOddUs) p.us = t.us(in);
      for (const Side s : kSides) {
        const auto rest = rest_us(t, s, before->at + t.ticks_ms(settled_after_ms(c.plan)), mark->at);
        if (!rest || p.us == 0) continue;
        const Departure d = departure(t, s, *rest, obeyed_us(c.plan, c.check), mark->at, p.end);
        p.obeyed = p.obeyed || d.away > 0;
        if (std::abs(d.furthest_us) > std::abs(p.furthest_us)) p.furthest_us = d.furthest_us;
      }
      if (p.us > 0) found.push_back(p);
    }
  return found;
}

/// A rejected width alone.
struct Alone {
  const Traffic* traffic;
  double us;
  BoardTime begin, end;
  bool driven{false};  ///< an output, once the spec's time to safe was over
};

/// Is the link kept alive: has the output pulses over (due, end], or a line stuck high, further from neutral than half of what it drove
/// at `begin`, whichever way? Where neutral lies, to a few us, and whether pulses may stop is the business of the signal-loss check.
bool still_driven(const script::Plan& plan, const Traffic& t, Side side, BoardTime begin, BoardTime due, BoardTime end) {
  const double neutral = neutral_of(plan, side), drove = std::abs(mean_before(t, side, begin, kDrivenPulses) - neutral);
  for (const Pulse& p : t.output(side).falling_in(due, end))
    if (std::abs(t.us(p) - neutral) > drove / 2 + t.width_uncertainty(p)) return true;
  return watch_safe(plan, t, side, begin, end, NAN, 0).stuck_high;
}

std::vector<Alone> alones(const Context& c, const std::vector<Traffic>& all) {
  std::vector<Alone> found;
  for (const Traffic& t : all)
    for (const double us : alone_widths(c.plan))
      for (const auto* mark : t.marks(alone_mark(us))) {
        const Pulse* last = t.throttle().last_fallen(mark->at);
        if (!last || !driven(c.plan, t, mark->at) || t.steering().falling_in(mark->at, t.end_of(*mark)).empty()) continue;
        Alone a{&t, us, last->fall, t.end_of(*mark), false};
        const BoardTime due = last->fall + t.ticks_ms(c.plan.spec.loss.safe_within_ms);
        for (const Side s : kSides) a.driven = a.driven || still_driven(c.plan, t, s, last->fall, due, a.end);
        found.push_back(a);
      }
  return found;
}

bool cut_width(double us) { return us > kCut[0]; }

void judge_window(const Context& c, const std::vector<Probe>& all, Findings& f) {
  const auto& r = c.plan.spec.receiver;
  std::int64_t odd = 0, obeyed = 0, good = 0, ignored = 0;
  double shortest = 1e9, longest = 0;
  for (const Probe& p : all) {
    const bool reject = p.us < r.reject_low_us || p.us > r.reject_high_us, accept = p.us >= r.accept_low_us && p.us <= r.accept_high_us;
    odd += reject, obeyed += reject && p.obeyed;
    good += accept, ignored += accept && !p.obeyed;
    if (p.obeyed) shortest = std::min(shortest, p.us), longest = std::max(longest, p.us);
  }
  f.measures.push_back(none_allowed("widths obeyed that no receiver sends", obeyed, odd, "widths", kNeededOdd));
  if (longest > 0) f.measures.back().note += "; obeyed from " + num(shortest, 0) + " to " + num(longest, 0) + " us of those tried";
  f.measures.push_back(none_allowed("widths ignored that a receiver may send", ignored, good, "widths", kNeededGood));
  if (obeyed > 0)
    f.causes.push_back({"no-window", obeyed > 1 ? 0.9 : 0.7,
                        whole(obeyed) + " of " + whole(odd) + " widths beyond the spec's window moved an output; obeyed from " +
                            num(shortest, 0) + " to " + num(longest, 0) + " us"});
  if (ignored > 0 && obeyed == 0)
    f.causes.push_back({"narrow-window", 0.8, whole(ignored) + " of " + whole(good) + " widths within the spec's window moved nothing"});
}

void judge_alone(const std::vector<Alone>& all, Findings& f) {
  std::int64_t alive = 0, cut = 0;
  std::string list;
  for (const Alone& a : all) {
    if (!a.driven) continue;
    ++alive, cut += cut_width(a.us);
    list += (list.empty() ? "" : ", ") + num(a.us, 0) + " us";
  }
  f.measures.push_back(
      none_allowed("rejected widths that keep the link alive", alive, static_cast<std::int64_t>(all.size()), "widths", kNeededAlone));
  if (alive > 0) f.measures.back().note += "; " + list;
  if (cut > 0 && cut == alive)
    f.causes.push_back(
        {"width-cut", 0.95,
         list + " taken for " + num(std::fmod(all.back().us, kCut[0]), 0) + " us, while other widths beyond the window are not obeyed"});
  else if (alive > 0)
    f.causes.push_back({"no-window", 0.8, "pulses of " + list + " alone do not count as a lost link"});
}

Picture edges(const std::vector<Probe>& all) {
  Picture p;
  p.title = "Which widths are obeyed";
  p.x_label = "width of the odd pulses, us (longer ones are not drawn)";
  p.y_label = "outputs furthest from rest, us";
  Series s = series(Series::Role::measured, Series::Style::dots, "outputs");
  for (const Probe& x : all)
    if (x.us < 3000) point(s, x.us, std::abs(x.furthest_us));
  p.series.push_back(std::move(s));
  return p;
}

CheckResult judge(const Context& c) {
  auto [all, stop] = open(c, kNeeded);
  if (stop) return *stop;
  const auto odd = probes(c, all);
  const auto only = alones(c, all);
  if (odd.empty() && only.empty()) return undecided(c, "the outputs were not driven when the odd widths came, or none came.");
  Findings f;
  judge_window(c, odd, f);
  judge_alone(only, f);
  std::stable_sort(f.causes.begin(), f.causes.end(), [](const Cause& a, const Cause& b) { return a.fit > b.fit; });
  const auto same = [](const Cause& a, const Cause& b) { return a.id == b.id; };
  f.causes.erase(std::unique(f.causes.begin(), f.causes.end(), same), f.causes.end());
  const auto& r = c.plan.spec.receiver;
  for (const Probe& p : odd)
    if (p.obeyed && (p.us < r.reject_low_us || p.us > r.reject_high_us))
      f.evidence.push_back(p.traffic->span(p.begin, p.end, num(p.us, 0) + " us obeyed", true));
  for (const Alone& a : only) f.evidence.push_back(a.traffic->span(a.begin, a.end, alone_mark(a.us), a.driven));
  f.pictures.push_back(edges(odd));
  f.when_passed = "Pulses that no receiver sends neither move the outputs nor keep the link alive.";
  f.when_failed = "A disturbed or broken receiver can drive the vehicle.";
  return conclude(c, std::move(f));
}

}  // namespace

const CheckKind kPlausibility{"plausibility", "pulses too short and too long to be a stick: which are obeyed", compose, judge};

}  // namespace midstick::judge
