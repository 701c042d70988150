// Wild frames: one, two, three frames of full stick in a steady stream (catalogue fault 10; figures common practice, no source).
//
// Up to the spec's number of wild frames must not show in the outputs at all. More may, since a quick stick looks the same, but the outputs
// must be back within the spec's latency after the first good frame.
#include <algorithm>
#include <cmath>

#include "daemon/judge/checks/checks.hpp"
#include "daemon/judge/conclude.hpp"
#include "daemon/judge/pictures.hpp"
#include "daemon/judge/safe.hpp"
#include "daemon/judge/steady.hpp"
#include "daemon/judge/sticks.hpp"
#include "daemon/judge/text.hpp"
#include "daemon/judge/uncertainty.hpp"
#include "daemon/mixer/model.hpp"

namespace midstick::judge {
namespace {

constexpr std::int64_t kNeeded = 10, kNeededHidden = 8;  // outputs times ends of sticks
constexpr double kThrottle = 30, kSteering = 20;         // percent, steady
constexpr int kLeastTried = 3;                           // wild frames in a row
constexpr double kWildUs = 50;                           // off the steady width: a wild pulse
constexpr double kObeyed = 0.4;                          // of what the model answers to the wild width
constexpr const char* kSteady = "steady";

struct Kind {
  const char* mark;
  bool throttle;
  double percent;
};
constexpr Kind kKinds[] = {{"throttle wild, ahead", true, 100},
                           {"throttle wild, astern", true, -100},
                           {"steering wild, right", false, 100},
                           {"steering wild, left", false, -100}};

double travel_of(const Kind& k) { return (k.percent > 0 ? 100 - (k.throttle ? kThrottle : kSteering) : 120) / 100; }

Result<script::StickScript> compose(const script::Plan& plan, const script::PlannedCheck& check, std::uint64_t seed) {
  Sticks sticks(plan, check.name, seed);
  const double frame = plan.frame.period_us / 1e3, rest = 2 * settled_after_ms(plan);
  const int most = std::max(kLeastTried, plan.spec.receiver.wild_frames + 1);
  sticks.arm().hold(kThrottle, kSteering, rest, kSteady);
  for (int cycle = 0; cycle < count_param(check, "cycles"); ++cycle)
    for (int n = 1; n <= most; ++n)
      for (const Kind& k : kKinds) {
        auto& wild = sticks.hold(k.throttle ? k.percent : kThrottle, k.throttle ? kSteering : k.percent, n * frame, k.mark);
        wild.frame = exact_frames(plan);
        // A little longer each time, so that wild frames fall on other parts of the controller's own frame.
        auto steady = plan.frame;
        steady.dither_us = std::max(steady.dither_us, std::min(param(check, "dither_us"), steady.period_us / 10));
        sticks.hold(kThrottle, kSteering, rest, kSteady).frame = steady;
      }
  sticks.hold(0, 0, rest, "back to neutral");
  return sticks.take();
}

/// One output's answer to one run of wild frames.
struct Trial {
  const Traffic* traffic;
  Side side;
  const Kind* kind;
  int frames{0};               ///< wild pulses really sent
  BoardTime begin, good, end;  ///< falls of the first wild and the next good pulse; end of the watch
  Departure seen;
  double asked_us{0};  ///< how far the model's answer to the wild width is from the steady one
  double late_ms{0};   ///< from the good pulse to the last output pulse away from rest; 0 when it was back before
};

/// The wild pulses of a mark and the good one after them; false when there are none.
bool find_wild(const Traffic& t, const Kind& k, const capture::Mark& mark, double steady, Trial& trial) {
  const PulseTrain& input = k.throttle ? t.throttle() : t.steering();
  for (const Pulse& p : input.falling_in(mark.at, t.segment().end)) {
    const bool wild = std::abs(t.us(p) - steady) > kWildUs;
    if (wild && trial.frames++ == 0) trial.begin = p.fall;
    if (wild || trial.frames == 0) continue;
    trial.good = p.fall;
    return true;
  }
  return false;
}

void try_side(const Context& c, const Traffic& t, const Kind& k, const capture::Mark& mark, Side side, std::vector<Trial>& found) {
  const auto* before = mark_before(t, mark);
  const auto* after = next_mark(t, kSteady, mark.at);
  if (!before || !after || !driven(c.plan, t, side, mark.at)) return;
  const auto rest = rest_us(t, side, before->at + t.ticks_ms(settled_after_ms(c.plan)), mark.at);
  const Pulse* throttle = last_valid(t, t.throttle(), mark.at);
  const Pulse* steering = last_valid(t, t.steering(), mark.at);
  Trial trial{&t, side, &k, 0, {}, {}, t.end_of(*after), {}, 0, 0};
  if (!rest || !throttle || !steering) return;
  if (!find_wild(t, k, mark, t.us(k.throttle ? *throttle : *steering), trial)) return;
  trial.seen = departure(t, side, *rest, param(c.check, "moved_us"), trial.begin, trial.end);
  const double wild = t.us(*(k.throttle ? t.throttle() : t.steering()).last_fallen(trial.begin));
  const auto a = mixer::expected(c.plan.spec, t.us(*throttle), t.us(*steering));
  const auto b = mixer::expected(c.plan.spec, k.throttle ? wild : t.us(*throttle), k.throttle ? t.us(*steering) : wild);
  trial.asked_us = side == Side::left ? b.left_us - a.left_us : b.right_us - a.right_us;
  if (trial.seen.last && *trial.seen.last > trial.good) trial.late_ms = t.ms(*trial.seen.last - trial.good);
  found.push_back(trial);
}

std::vector<Trial> trials(const Context& c, const std::vector<Traffic>& all) {
  std::vector<Trial> found;
  for (const Traffic& t : all)
    for (const Kind& k : kKinds)
      for (const auto* mark : t.marks(k.mark))
        for (const Side s : kSides) try_side(c, t, k, *mark, s, found);
  return found;
}

bool must_not_show(const Context& c, const Trial& t) { return t.frames <= c.plan.spec.receiver.wild_frames; }

void judge_hidden(const Context& c, const std::vector<Trial>& all, Findings& f) {
  const int most = c.plan.spec.receiver.wild_frames;
  if (most == 0) return;
  std::int64_t n = 0, moved = 0, obeyed = 0;
  double furthest = 0;
  for (const Trial& t : all) {
    if (!must_not_show(c, t)) continue;
    ++n;
    if (t.seen.away == 0) continue;
    ++moved;
    obeyed += t.seen.furthest_us * t.asked_us > 0 && std::abs(t.seen.furthest_us) >= kObeyed * std::abs(t.asked_us);
    if (std::abs(t.seen.furthest_us) > std::abs(furthest)) furthest = t.seen.furthest_us;
  }
  f.measures.push_back(none_allowed("answers to up to " + whole(most) + " wild frames", moved, n, "trials", kNeededHidden));
  if (moved > 0)
    f.causes.push_back({"wild-frame-obeyed", 2 * obeyed >= moved ? 0.9 : 0.5,
                        whole(obeyed) + " of " + whole(moved) + " answers go towards the wild width; the furthest is " + num(furthest, 0) +
                            " us from rest"});
}

void judge_return(const Context& c, const std::vector<Trial>& all, Findings& f) {
  const Trial* worst = nullptr;
  std::int64_t n = 0;
  double limit = c.plan.spec.latency_max_ms;
  for (const Trial& t : all) {
    if (must_not_show(c, t)) continue;
    ++n;
    if (!worst || t.late_ms > worst->late_ms) worst = &t;
  }
  if (worst) limit += settled_after_ms(c.plan, travel_of(*worst->kind)) - settled_after_ms(c.plan, 0);
  const double u =
      worst ? span_uncertainty_us(worst->traffic->capture(), worst->traffic->ticks_ms(worst->late_ms), kCommanded, 1) / 1e3 : 0;
  f.measures.push_back(measure("longest answer after the good frames return", worst ? worst->late_ms : 0, {}, limit, u, "ms", n, kNeeded));
}

Picture picture(const Trial& t, bool failing) {
  const BoardTime lead = std::max(t.begin - t.traffic->ticks_ms(120), t.traffic->segment().begin);
  Picture p = time_picture(*t.traffic, lead, t.end, std::string("The furthest answer to wild frames: ") + t.kind->mark);
  p.bands.push_back({t.traffic->ms(t.begin - lead), t.traffic->ms(t.good - lead), whole(t.frames) + " wild", failing});
  return p;
}

CheckResult judge(const Context& c) {
  auto [all, stop] = open(c, kNeeded);
  if (stop) return *stop;
  const auto found = trials(c, all);
  if (found.empty()) return undecided(c, "the outputs were not driven when the wild frames came, or none came.");
  Findings f;
  judge_hidden(c, found, f);
  judge_return(c, found, f);
  const double limit = c.plan.spec.latency_max_ms + settled_after_ms(c.plan, 2) - settled_after_ms(c.plan, 0);
  const Trial* furthest = &found.front();
  for (const Trial& t : found) {
    const bool failing = must_not_show(c, t) ? t.seen.away > 0 : t.late_ms > limit;
    const bool worse = std::pair(failing, std::abs(t.seen.furthest_us)) >
                       std::pair(furthest->seen.away > 0 && must_not_show(c, *furthest), std::abs(furthest->seen.furthest_us));
    if (worse) furthest = &t;
    if (failing || &t == &found.front())
      f.evidence.push_back(t.traffic->span(t.begin, t.end, whole(t.frames) + " wild frames, " + name(t.side) + " output", failing));
  }
  f.pictures.push_back(picture(*furthest, overall(f.measures) == Verdict::fail));
  const int hidden = c.plan.spec.receiver.wild_frames;
  f.when_passed = (hidden > 0 ? "Up to " + whole(hidden) + " wild frames do not show; more are" : std::string("Wild frames are")) +
                  " over as soon as the latency allows.";
  f.when_failed = "The vehicle may twitch on a single bad frame.";
  return conclude(c, std::move(f));
}

}  // namespace

const CheckKind kWildFrames{"wild-frames", "single wild frames in a steady stream: how far the outputs follow them", compose, judge};

}  // namespace midstick::judge
