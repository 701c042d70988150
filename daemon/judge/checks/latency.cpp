// Latency: steps at random phase, as a distribution (catalogue fault 59; limits common practice, no source).
//
// From the fall of the first input pulse that carries the new width (before it no controller can know) to the fall of the first output
// pulse that has left its old width (only then does an ESC know). One step gives one latency for each output that the spec lets move.
#include <algorithm>
#include <cmath>

#include "daemon/judge/checks/checks.hpp"
#include "daemon/judge/conclude.hpp"
#include "daemon/judge/holds.hpp"
#include "daemon/judge/pictures.hpp"
#include "daemon/judge/sticks.hpp"
#include "daemon/judge/text.hpp"
#include "daemon/judge/uncertainty.hpp"
#include "daemon/mixer/model.hpp"
#include "daemon/statistics/rates.hpp"
#include "daemon/statistics/summary.hpp"

namespace midstick::judge {
namespace {

constexpr std::int64_t kNeeded = 20;  // latencies: with fewer the 95 % point is no more than the largest
constexpr double kClearStep = 3;      // a step is used where the spec moves the output by this many thresholds
constexpr int kPhaseBins = 10;
constexpr std::size_t kSpansShown = 5;

double limit_ms(const script::Plan& plan, const script::PlannedCheck& check) {
  return param_or(check, "limit_ms", plan.spec.latency_max_ms);
}

Result<script::StickScript> compose(const script::Plan& plan, const script::PlannedCheck& check, std::uint64_t seed) {
  Sticks sticks(plan, check.name, seed);
  sticks.arm();
  if (check.script) return sticks.play(*check.script).take();
  // A tenth of the frame at most, so that pulses still fit; 50 Hz receivers wander less, the phase is what matters.
  sticks.frame().dither_us = std::min(param(check, "dither_us"), plan.frame.period_us / 10);
  const double size = param(check, "step_percent");
  const double hold = std::max(param(check, "hold_ms"), limit_ms(plan, check) + 4 * plan.spec.frame.period_high_ms);
  const double throttle[] = {50 - size / 2, 50 + size / 2}, steering[] = {0, size / 2};
  int t = 0, s = 0;
  sticks.hold(throttle[0], steering[0], 2 * hold, "start");
  for (int i = 0; i < count_param(check, "steps"); ++i) {
    (i % 2 ? s : t) ^= 1;
    sticks.hold(throttle[t], steering[s], hold, "step");
  }
  sticks.hold(0, 0, hold, "back to neutral");
  return sticks.take();
}

constexpr double kCreeps = 4;        // input frames from leaving the old width to being there: what a filter does
constexpr double kTail = 0.4;        // at most this share late: now and then something waits
constexpr double kOtherStick = 0.7;  // input frames that one stick's median is later than the other's: it is read after a wait

struct Response {
  const Traffic* traffic;
  Side side;
  BoardTime step, answered;
  double ms{0}, uncertainty_ms{0};
  double creep_ms{0};   ///< from leaving the old width to coming near the new one
  bool throttle{true};  ///< the stick that moved; else steering
  double phase{0};      ///< of the step in the output's own frame, 0..1
  bool missed{false};   ///< did not move before the sticks moved again
};

double mean_of_last(const Traffic& t, std::span<const Pulse> pulses) {
  const auto tail = pulses.last(std::min<std::size_t>(pulses.size(), 2));
  return statistics::summarise(widths_of(t, tail).us).mean;
}

/// Answer of one output to the step from `a` to `b`; nothing when the spec hardly moves it.
bool answer(const Context& c, const Traffic& t, Side side, const Hold& a, const Hold& b, Response& r) {
  const double moved = param(c.check, "moved_us");
  const auto from = mixer::expected(c.plan.spec, a.throttle_us, a.steering_us),
             to = mixer::expected(c.plan.spec, b.throttle_us, b.steering_us);
  const double jump = side == Side::left ? to.left_us - from.left_us : to.right_us - from.right_us;
  if (std::abs(jump) < kClearStep * moved) return false;
  const auto before = t.output(side).within(a.begin + t.ticks_ms(limit_ms(c.plan, c.check)), a.end);
  if (before.size() < 2) return false;
  const double old = statistics::summarise(widths_of(t, before).us).median;
  r = {&t, side, a.end, b.end, 0, 0, 0, std::abs(b.throttle_us - a.throttle_us) > std::abs(b.steering_us - a.steering_us), 0, true};
  const double frame = t.ms(before.back().rise - before[before.size() - 2].rise);
  const double phase = t.ms(a.end - before.back().rise) / frame;
  r.phase = phase - std::floor(phase);
  std::uint16_t half = 1;
  for (const Pulse& p : t.output(side).falling_in(a.end, b.end)) {
    if (std::abs(t.us(p) - old) <= moved) continue;
    r.answered = p.fall, r.missed = false, half = p.fall_half;
    break;
  }
  const BoardSpan span = r.answered - r.step;
  r.ms = t.ms(span);
  const auto after = t.output(side).falling_in(r.answered, b.end);
  const double last = mean_of_last(t, after);
  for (const Pulse& p : after) {
    if (std::abs(t.us(p) - last) <= moved) break;
    r.creep_ms = t.ms(p.fall - r.answered);
  }
  r.uncertainty_ms = span_uncertainty_us(t.capture(), span, kCommanded, half) / 1e3;
  return true;
}

std::vector<Response> responses(const Context& c, const std::vector<Traffic>& all, double limit) {
  std::vector<Response> found;
  for (const Traffic& t : all) {
    const auto rests = holds(t, still_us(c.plan, c.check));
    // Two sticks that move in one frame leave a sliver between them; rests are what is left.
    std::vector<Hold> long_rests;
    for (const Hold& h : rests)
      if (t.ms(h.end - h.begin) > limit + 2 * c.plan.spec.frame.period_high_ms) long_rests.push_back(h);
    for (std::size_t i = 1; i < long_rests.size(); ++i) {
      const Hold &a = long_rests[i - 1], &b = long_rests[i];
      if (t.ms(b.begin - a.end) > c.plan.frame.period_us / 1e3) continue;
      Response r;
      for (const Side s : kSides)
        if (answer(c, t, s, a, b, r)) found.push_back(r);
    }
  }
  return found;
}

int phases_covered(const std::vector<Response>& all) {
  bool seen[kPhaseBins] = {};
  for (const Response& r : all) seen[std::min(kPhaseBins - 1, static_cast<int>(r.phase * kPhaseBins))] = true;
  return static_cast<int>(std::count(seen, seen + kPhaseBins, true));
}

Picture distribution(std::vector<double> ms, double limit) {
  Picture p;
  p.title = "Latency: share of steps answered within a time";
  p.x_label = "time from input step to output moved, ms";
  p.y_label = "steps answered, percent";
  std::sort(ms.begin(), ms.end());
  Series s = series(Series::Role::measured, Series::Style::steps, "answered");
  for (std::size_t i = 0; i < ms.size(); ++i) point(s, ms[i], 100.0 * static_cast<double>(i + 1) / static_cast<double>(ms.size()));
  Series line = series(Series::Role::limit, Series::Style::line, "limit");
  point(line, limit, 0), point(line, limit, 100);
  p.series = {std::move(s), std::move(line)};
  return p;
}

void name_causes(const Context& c, const std::vector<Response>& all, double limit, Findings& f) {
  std::vector<double> every, creep, by[2];
  for (const Response& r : all) {
    if (r.missed) continue;
    every.push_back(r.ms), creep.push_back(r.creep_ms), by[r.throttle ? 0 : 1].push_back(r.ms);
  }
  const statistics::Summary s = statistics::summarise(every);
  if (s.samples < kNeeded) return;
  const double frame = c.plan.frame.period_us / 1e3, creeps = statistics::summarise(creep).median;
  const bool slews = c.plan.spec.throttle.slew_up > 0 || c.plan.spec.steering.slew_up > 0 || c.plan.spec.throttle.slew_down > 0;
  if (creeps > kCreeps * frame && !slews) {
    f.causes.push_back({"excess-filter", 0.9,
                        "half of the steps take " + num(creeps, 0) + " ms more, " + num(creeps / frame) +
                            " input frames, from leaving the old width to coming near the new one"});
    return;
  }
  const double throttle = statistics::summarise(by[0]).median, steering = statistics::summarise(by[1]).median;
  const bool apart = !by[0].empty() && !by[1].empty() && std::abs(throttle - steering) > kOtherStick * frame;
  if (apart)
    f.causes.push_back({"blocking-read", 0.8,
                        "throttle is answered after " + num(throttle) + " ms, steering after " + num(steering) +
                            " ms in the median: one waits " + num(std::abs(throttle - steering) / frame) + " input frames more"});
  const auto late = std::count_if(every.begin(), every.end(), [&](double ms) { return ms > limit; });
  if (late > 0 && static_cast<double>(late) <= kTail * static_cast<double>(s.samples) && s.median < limit)
    f.causes.push_back({"slow-loop", apart ? 0.4 : 0.85,
                        whole(late) + " of " + whole(s.samples) + " answers are late, up to " + num(s.max) +
                            " ms, though half come within " + num(s.median) + " ms"});
}

void add_evidence(const std::vector<Response>& all, double limit, Findings& f) {
  std::vector<const Response*> slowest;
  for (const Response& r : all) slowest.push_back(&r);
  std::stable_sort(slowest.begin(), slowest.end(), [](auto* a, auto* b) { return a->ms > b->ms; });
  for (std::size_t i = 0; i < slowest.size() && i < kSpansShown; ++i) {
    const Response& r = *slowest[i];
    const bool late = r.missed || r.ms - r.uncertainty_ms > limit;
    f.evidence.push_back(r.traffic->span(
        r.step, r.answered, std::string(name(r.side)) + (r.missed ? ", not answered" : ", ") + (r.missed ? "" : num(r.ms) + " ms"), late));
    f.evidence.back().severity = r.missed ? 1e9 : r.ms;
  }
}

CheckResult judge(const Context& c) {
  auto [all, stop] = open(c, kNeeded);
  if (stop) return *stop;
  const double limit = limit_ms(c.plan, c.check);
  const auto found = responses(c, all, limit);
  std::vector<double> ms;
  std::int64_t missed = 0;
  double u = 0;
  for (const Response& r : found) {
    missed += r.missed;
    if (r.missed) continue;
    ms.push_back(r.ms);
    u = std::max(u, r.uncertainty_ms);
  }
  const statistics::Summary s = statistics::summarise(ms);
  const auto n = s.samples;
  Findings f;
  f.measures.push_back(measure("longest latency", s.max, {}, limit, u, "ms", n, kNeeded));
  if (f.measures.back().verdict == Verdict::pass)
    f.measures.back().note = "0 of " + whole(n) + " answers later: " + none_seen_text(n) + "; steps fell on " +
                             whole(phases_covered(found)) + " of " + whole(kPhaseBins) + " parts of the output frame";
  f.measures.push_back(measure("95 % latency", statistics::percentile(ms, 95), {}, limit, u, "ms", n, kNeeded));
  f.measures.push_back(measure("median latency", s.median, {}, limit, u, "ms", n, kNeeded));
  f.measures.push_back(none_allowed("steps not answered", missed, static_cast<std::int64_t>(found.size()), "steps", kNeeded));
  name_causes(c, found, limit, f);
  add_evidence(found, limit, f);
  f.pictures.push_back(distribution(ms, limit));
  if (!found.empty()) {
    const auto slow = std::max_element(found.begin(), found.end(), [](const Response& a, const Response& b) { return a.ms < b.ms; });
    const BoardSpan lead = slow->traffic->ticks_ms(100);
    f.pictures.push_back(time_picture(*slow->traffic, slow->step - lead, slow->answered + lead, "The slowest answer"));
    f.pictures.back().bands.push_back({100, 100 + slow->ms, "latency", slow->missed || slow->ms > limit});
  }
  f.when_passed = "Every step of a stick moved the outputs within " + num(s.max) + " ms; half of them within " + num(s.median) + " ms.";
  f.when_failed = "The vehicle answers its sticks too late.";
  return conclude(c, std::move(f));
}

}  // namespace

const CheckKind kLatency{"latency", "steps at random phase: time from input step to output moved", compose, judge};

}  // namespace midstick::judge
