// Input rate: receiver frames from fast to slow, both sticks stepping, then the throttle moving in every frame (catalogue faults 16, 17;
// figures common practice, no source).
//
// At each period that the spec names the outputs follow, are not taken for a lost link, and are renewed as often as the slower of the two
// frames allows. Periods shorter than the plan's come first, each way outwards; after a lost link the rest of its way says nothing more.
#include <algorithm>
#include <cmath>

#include "daemon/judge/checks/checks.hpp"
#include "daemon/judge/conclude.hpp"
#include "daemon/judge/pictures.hpp"
#include "daemon/judge/safe.hpp"
#include "daemon/judge/steady.hpp"
#include "daemon/judge/sticks.hpp"
#include "daemon/judge/text.hpp"
#include "daemon/mixer/model.hpp"
#include "daemon/script/percent.hpp"

namespace midstick::judge {
namespace {

constexpr std::int64_t kNeeded = 10;
constexpr double kFirst[2] = {30, 0}, kSecond[2] = {60, 20};  // percent, throttle and steering
constexpr double kWaveLow = 20, kWaveHigh = 90;               // percent of throttle
constexpr int kWaveFrames = 12;                               // receiver frames from low to high
constexpr double kWaveMs = 400;                               // at least, and a wave
constexpr double kUpdateUs = 6;       // two widths this far apart are an update; a wave moves by several times that in a frame
constexpr double kLeastUpdates = 60;  // percent of what the slower frame allows: half of them is a fault, turning points cost up to a third
constexpr double kFollowed = 0.5;     // of the way from the one position's answer to the other's
constexpr int kLastPulses = 3;
constexpr const char* kDrive = "drive";

std::string first_mark(double ms) { return num(ms) + " ms frames, first position"; }
std::string second_mark(double ms) { return num(ms) + " ms frames, second position"; }
std::string wave_mark(double ms) { return num(ms) + " ms frames, moving"; }

/// Periods of the plan that the spec wants followed, ms: below the plan's own, downwards, then the rest upwards.
std::vector<std::vector<double>> ways(const script::Plan& plan, const script::PlannedCheck& check) {
  std::vector<double> slow, fast;
  for (const auto& p : check.params.at("periods_ms")) {
    const double ms = p.get<double>();
    if (ms < plan.spec.receiver.period_low_ms || ms > plan.spec.receiver.period_high_ms) continue;
    (ms * 1e3 < plan.frame.period_us ? fast : slow).push_back(ms);
  }
  std::sort(fast.rbegin(), fast.rend()), std::sort(slow.begin(), slow.end());
  return {fast, slow};
}

/// One after another where that fits, else rising together.
script::ReceiverFrame frame_of(const script::Plan& plan, double ms) {
  constexpr double kGapsUs = 700;
  auto frame = exact_frames(plan);
  frame.period_us = ms * 1e3, frame.phase_us.clear();
  const bool fits = plan.spec.throttle.high_us + plan.spec.steering.high_us + kGapsUs <= frame.period_us;
  frame.order = fits ? script::ReceiverFrame::Order::sequential : script::ReceiverFrame::Order::simultaneous;
  return frame;
}

bool slewed(const script::Plan& plan) { return plan.spec.throttle.slew_up > 0 || plan.spec.throttle.slew_down > 0; }

/// The throttle up and down, a step in every frame.
void wave(const script::Plan& plan, Sticks& sticks, double ms) {
  const int frames = std::max(2 * kWaveFrames, static_cast<int>(kWaveMs / ms));
  auto& move = sticks.hold(kWaveLow, kSecond[1], ms);
  move.kind = script::Move::Kind::points, move.point_ms = ms, move.for_ms = frames * ms, move.frame = frame_of(plan, ms);
  for (int i = 0; i < frames; ++i) {
    const int at = i % (2 * kWaveFrames);
    const double share = static_cast<double>(at < kWaveFrames ? at : 2 * kWaveFrames - at) / kWaveFrames;
    move.points.push_back(
        {{plan.spec.throttle.name, script::width_of_percent(plan.spec.throttle, kWaveLow + share * (kWaveHigh - kWaveLow))},
         {plan.spec.steering.name, script::width_of_percent(plan.spec.steering, kSecond[1])}});
  }
}

Result<script::StickScript> compose(const script::Plan& plan, const script::PlannedCheck& check, std::uint64_t seed) {
  Sticks sticks(plan, check.name, seed);
  for (const auto& way : ways(plan, check)) {
    sticks.arm().hold(kFirst[0], kFirst[1], settled_after_ms(plan), kDrive);
    for (const double ms : way) {
      const double rest = std::ceil((settled_after_ms(plan) + 2 * ms + plan.spec.frame.period_high_ms) / ms) * ms;
      const auto hold = [&](const double(&at)[2], double for_ms, const std::string& mark) {
        auto& move = sticks.hold(at[0], at[1], for_ms, mark);
        move.frame = frame_of(plan, ms), move.for_ms = for_ms;
      };
      hold(kFirst, rest, first_mark(ms));
      hold(kSecond, rest, second_mark(ms));
      if (slewed(plan)) continue;
      hold(kSecond, ms, wave_mark(ms));
      wave(plan, sticks, ms);
    }
  }
  sticks.arm();
  return sticks.take();
}

/// One period.
struct Rate {
  const Traffic* traffic;
  double ms;
  BoardTime begin, end;
  double followed{1};             ///< least of the outputs, of the way from the first position's answer to the second's
  bool lost{false};               ///< an output went back towards neutral, or fell silent
  std::optional<double> updates;  ///< percent of what the slower frame allows
  std::int64_t pulses{0};
};

void watch_steps(const Context& c, const Traffic& t, const capture::Mark& a, const capture::Mark& b, Rate& r) {
  const auto ask = [&](BoardTime end, Side s) {
    const Pulse *throttle = last_valid(t, t.throttle(), end), *steering = last_valid(t, t.steering(), end);
    const auto y = mixer::expected(c.plan.spec, throttle ? t.us(*throttle) : 0, steering ? t.us(*steering) : 0);
    return s == Side::left ? y.left_us : y.right_us;
  };
  for (const Side s : kSides) {
    const double from = ask(b.at, s), to = ask(t.end_of(b), s), neutral = neutral_of(c.plan, s);
    const auto seen = t.output(s).falling_in(a.at, t.end_of(b));
    r.pulses += static_cast<std::int64_t>(seen.size());
    const double at_a = mean_before(t, s, b.at, kLastPulses), at_b = mean_before(t, s, t.end_of(b), kLastPulses);
    if (std::abs(to - from) > 2 * kUpdateUs) r.followed = std::min(r.followed, seen.empty() ? 0 : (at_b - from) / (to - from));
    for (const auto& [at, asked] : {std::pair{at_a, from}, std::pair{at_b, to}})
      r.lost = r.lost || seen.empty() || (at - neutral) / (asked - neutral) < kFollowed / 2;
  }
}

void watch_wave(const Traffic& t, const capture::Mark& mark, Rate& r) {
  const BoardTime begin = mark.at + t.ticks_ms(2 * r.ms), end = t.end_of(mark);
  const auto pulses = t.output(Side::left).falling_in(begin, end);
  if (pulses.size() < 4) return;
  const double span = t.ms(pulses.back().fall - pulses.front().fall);
  const double frame = span / static_cast<double>(pulses.size() - 1), slower = std::max(frame, r.ms);
  int updates = 0;
  for (std::size_t i = 1; i < pulses.size(); ++i) updates += std::abs(t.us(pulses[i]) - t.us(pulses[i - 1])) > kUpdateUs;
  r.updates = std::min(100.0, 100 * updates / (span / slower));
  r.end = end;
}

std::vector<Rate> rates(const Context& c, const std::vector<Traffic>& all) {
  std::vector<Rate> found;
  for (const Traffic& t : all) {
    const auto drives = t.marks(kDrive);
    std::size_t way = 0;
    for (const auto& periods : ways(c.plan, c.check)) {
      if (way >= drives.size() || !driven(c.plan, t, t.end_of(*drives[way++]))) continue;
      for (const double ms : periods) {
        const auto *a = next_mark(t, first_mark(ms), {}), *b = next_mark(t, second_mark(ms), {}), *moving = next_mark(t, wave_mark(ms), {});
        if (!a || !b || t.throttle().falling_in(b->at, t.end_of(*b)).empty()) continue;
        Rate r{&t, ms, a->at, t.end_of(*b), 1, false, {}, 0};
        watch_steps(c, t, *a, *b, r);
        if (moving && !r.lost) watch_wave(t, *moving, r);
        found.push_back(r);
        if (r.lost) break;  // disarmed, by design, until the sticks were at neutral
      }
    }
  }
  return found;
}

bool few_updates(const Rate& r) { return r.updates && *r.updates < kLeastUpdates; }
bool bad(const Rate& r) { return r.lost || r.followed < kFollowed || few_updates(r); }

void name_causes(const Context& c, const std::vector<Rate>& all, Findings& f) {
  std::string fast, slow;
  bool all_slow_lost = true;
  const double plan_ms = c.plan.frame.period_us / 1e3;
  for (const Rate& r : all) {
    if (!bad(r)) continue;
    std::string& list = r.ms < plan_ms ? fast : slow;
    list += (list.empty() ? "" : ", ") + num(r.ms) + " ms";
    if (r.ms >= plan_ms) all_slow_lost = all_slow_lost && r.lost;
  }
  if (!fast.empty() && !slow.empty() && !all_slow_lost) return;  // wrong either side of the plan's own rate: no matter of rate
  if (!fast.empty())
    f.causes.push_back(
        {"frame-rate-limit", slow.empty() ? 0.9 : 0.6, "fails with frames of " + fast + ", not with longer ones up to the plan's"});
  if (!slow.empty() && all_slow_lost)
    f.causes.push_back({"loss-timeout-short", fast.empty() ? 0.9 : 0.6, "goes safe with frames of " + slow + ", not with shorter ones"});
}

CheckResult judge(const Context& c) {
  auto [all, stop] = open(c, kNeeded);
  if (stop) return *stop;
  const auto found = rates(c, all);
  if (found.empty())
    return undecided(c, "the outputs were not driven when the frame period changed, or no period is one that the spec names.");
  Findings f;
  const Rate* worst = &found.front();
  std::int64_t lost = 0, deaf = 0, n = 0, measured = 0;
  double least = 100;
  std::int64_t planned = 0;
  for (const auto& way : ways(c.plan, c.check)) planned += static_cast<std::int64_t>(way.size());
  for (const Rate& r : found) {
    ++n, lost += r.lost, deaf += !r.lost && r.followed < kFollowed;
    if (r.updates) ++measured, least = std::min(least, *r.updates);
    if (bad(r) || !bad(*worst)) worst = &r;
    f.evidence.push_back(r.traffic->span(r.begin, r.end, "frames of " + num(r.ms) + " ms", bad(r)));
  }
  f.measures.push_back(none_allowed("frame periods taken for a lost link", lost, n, "periods", planned));
  f.measures.push_back(none_allowed("frame periods not followed", deaf, n, "periods", lost > 0 ? 1 : planned));
  if (measured > 0)
    f.measures.push_back(measure("fewest updates, of what the slower frame allows", least, kLeastUpdates, {}, 0, "%", measured));
  name_causes(c, found, f);
  f.pictures.push_back(time_picture(*worst->traffic, worst->begin, worst->end, "Receiver frames of " + num(worst->ms) + " ms"));
  f.when_passed = "With receiver frames from " +
                  num(std::min_element(found.begin(), found.end(), [](auto& a, auto& b) { return a.ms < b.ms; })->ms) + " to " +
                  num(std::max_element(found.begin(), found.end(), [](auto& a, auto& b) { return a.ms < b.ms; })->ms) +
                  " ms the outputs follow, and are renewed as often as they can be.";
  f.when_failed = "The vehicle does not work with every receiver that its spec names.";
  return conclude(c, std::move(f));
}

}  // namespace

const CheckKind kInputRate{"input-rate", "receiver frames from fast to slow: the outputs keep following", compose, judge};

}  // namespace midstick::judge
