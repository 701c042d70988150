// Limits: every corner of the stick square, at full stick and past it (catalogue faults 34, 49, 52). No output past its clamp, and both
// ends reached. Tolerances are common practice, no source.
#include <algorithm>
#include <cmath>

#include "daemon/judge/checks/checks.hpp"
#include "daemon/judge/conclude.hpp"
#include "daemon/judge/extreme.hpp"
#include "daemon/judge/holds.hpp"
#include "daemon/judge/pictures.hpp"
#include "daemon/judge/sticks.hpp"
#include "daemon/judge/text.hpp"
#include "daemon/mixer/model.hpp"
#include "daemon/statistics/summary.hpp"

namespace midstick::judge {
namespace {

constexpr std::int64_t kNeeded = 20;  // pulses on each output
constexpr const char* kCorner = "corner";
constexpr double kEscLowUs = 800, kEscHighUs = 2200;  // usual, where the spec has no ESC: common practice, no source
constexpr double kByteTurnUs = 128, kNearUs = 3;

Result<script::StickScript> compose(const script::Plan& plan, const script::PlannedCheck& check, std::uint64_t seed) {
  Sticks sticks(plan, check.name, seed);
  sticks.arm();
  if (check.script) return sticks.play(*check.script).take();
  const double hold = param(check, "hold_ms"), over = param(check, "travel_percent");
  for (const double full : {100.0, over})
    for (const auto& [t, s] : {std::pair{1, 1}, {-1, -1}, {1, -1}, {-1, 1}, {1, 0}, {-1, 0}, {0, 1}, {0, -1}})
      sticks.hold(t * full, s * full, hold + sticks.slewing_ms(t * full, s * full), kCorner);
  sticks.hold(0, 0, hold, "back to neutral");
  return sticks.take();
}

/// The ends that settled stretches reached beside those that the model asks for.
struct Ends {
  double low_seen{1e9}, high_seen{-1e9}, low_asked{1e9}, high_asked{-1e9}, uncertainty{0};
  std::int64_t stretches{0};
};

void add_stretches(Ends& e, const Context& c, const Traffic& t, Side side) {
  const auto stretches = holds(t, still_us(c.plan, c.check));
  const auto slewing = slewing_ms(c, t, stretches);
  for (std::size_t i = 0; i < stretches.size(); ++i) {
    const Hold& h = stretches[i];
    const double settle = param(c.check, "settle_ms") + slewing[i];
    const Widths w = widths_of(t, t.output(side).within(h.begin + t.ticks_ms(settle), h.end));
    if (w.us.size() < 2) continue;
    const double mean = statistics::summarise(w.us).mean;
    const auto asked = mixer::expected(c.plan.spec, h.throttle_us, h.steering_us);
    const double want = side == Side::left ? asked.left_us : asked.right_us;
    e.low_seen = std::min(e.low_seen, mean), e.high_seen = std::max(e.high_seen, mean);
    e.low_asked = std::min(e.low_asked, want), e.high_asked = std::max(e.high_asked, want);
    e.uncertainty = std::max(e.uncertainty, w.uncertainty);
    ++e.stretches;
  }
}

void judge_side(const Context& c, const std::vector<Traffic>& all, Side side, Findings& f) {
  const auto& out = side == Side::left ? c.plan.spec.left : c.plan.spec.right;
  const double tolerance = param(c.check, "tolerance_us"), reach = param(c.check, "reach_us");
  const std::string who = name(side);
  Extreme shortest(out.clamp_low_us - tolerance, {}), longest({}, out.clamp_high_us + tolerance);
  Ends e;
  for (const Traffic& t : all) {
    for (const Pulse& p : t.output(side).all()) shortest.add(t, p, t.us(p)), longest.add(t, p, t.us(p));
    add_stretches(e, c, t, side);
  }
  for (const auto& [what, extreme] : {std::pair{" shortest pulse", &shortest}, std::pair{" longest pulse", &longest}}) {
    f.measures.push_back(extreme->as_measure(who + what, kNeeded));
    if (const auto p = extreme->pulse(); p && extreme->failing())
      f.evidence.push_back(extreme->traffic()->span(p->rise, p->fall, who + what, true));
  }
  const std::int64_t n = e.stretches;
  std::int64_t corners = 2;
  if (!c.check.script) {
    corners = 0;
    for (const Traffic& t : all) corners += static_cast<std::int64_t>(t.marks(kCorner).size());
  }
  f.measures.push_back(measure(who + " low end reached", e.low_seen, {}, e.low_asked + reach, e.uncertainty, "us", n, corners));
  f.measures.push_back(measure(who + " high end reached", e.high_seen, e.high_asked - reach, {}, e.uncertainty, "us", n, corners));
}

bool failed(const Measure& m) { return m.verdict == Verdict::fail; }

/// Past a limit: by a whole turn of 8 bits (256 counts of half a microsecond), beyond what an ESC takes for a signal, or plainly another.
void add_causes_past(const Context& c, Side side, const Measure& shortest, const Measure& longest, Findings& f) {
  const auto& out = side == Side::left ? c.plan.spec.left : c.plan.spec.right;
  const double window_low = out.esc ? out.esc->valid_low_us : kEscLowUs, window_high = out.esc ? out.esc->valid_high_us : kEscHighUs;
  for (const Measure* m : {&shortest, &longest}) {
    if (!failed(*m)) continue;
    const bool low = m == &shortest;
    const double past = low ? out.clamp_low_us - m->measured : m->measured - out.clamp_high_us;
    const std::string who = std::string(name(side)) + " output sends " + num(m->measured) + " us, " + num(past) + " us past its limit";
    const double turns = past / kByteTurnUs;
    if (turns > 0.5 && std::abs(turns - std::round(turns)) * kByteTurnUs < kNearUs)
      f.causes.push_back({"limit-cut", 0.95, who + ": " + num(std::round(turns), 0) + " times 256 counts of 0.5 us"});
    else if (low ? m->measured < window_low : m->measured > window_high)
      f.causes.push_back({"beyond-esc-window", 0.9, who + "; an ESC takes " + num(window_low, 0) + " to " + num(window_high, 0) + " us"});
    else
      f.causes.push_back({"limit-off", 0.85, who});
  }
}

/// Ends not reached: on all sides alike the sticks' ends, on one side that side's strength.
void add_causes_short(const Measure (&ends)[2][2], Findings& f) {
  const auto missing = [](const Measure& m) { return m.limit_high ? m.measured - *m.limit_high : *m.limit_low - m.measured; };
  int count = 0;
  std::string what;
  for (const auto& side : ends)
    for (const Measure& m : side) {
      if (!failed(m)) continue;
      ++count;
      what += (what.empty() ? "" : ", ") + m.name + " short by more than " + num(missing(m)) + " us";
    }
  if (count == 0) return;
  const bool one_side = count == 2 && (failed(ends[0][0]) == failed(ends[0][1]));
  if (one_side) f.causes.push_back({"side-gain", 0.7, what});
  f.causes.push_back({"endpoint-mismatch", one_side ? 0.5 : 0.75, what});
}

/// One cause once, with its best fit.
void keep_best(std::vector<Cause>& causes) {
  std::stable_sort(causes.begin(), causes.end(), [](const Cause& a, const Cause& b) { return a.fit > b.fit; });
  std::vector<Cause> kept;
  for (Cause& cause : causes)
    if (std::none_of(kept.begin(), kept.end(), [&](const Cause& k) { return k.id == cause.id; })) kept.push_back(std::move(cause));
  causes = std::move(kept);
}

CheckResult judge(const Context& c) {
  auto [all, stop] = open(c, kNeeded);
  if (stop) return *stop;
  Findings f;
  for (const Side s : kSides) judge_side(c, all, s, f);
  const bool failing = overall(f.measures) == Verdict::fail;
  if (failing) {
    const auto& m = f.measures;  // shortest, longest, low end, high end of each side
    add_causes_past(c, Side::left, m[0], m[1], f);
    add_causes_past(c, Side::right, m[4], m[5], f);
    add_causes_short({{m[2], m[3]}, {m[6], m[7]}}, f);
    keep_best(f.causes);
  }
  for (const Traffic& t : all) {
    f.evidence.push_back(t.span(t.segment().begin, t.segment().end, "all corners", failing && f.evidence.empty()));
    if (!f.pictures.empty()) continue;
    Picture p = time_picture(t, t.segment().begin, t.segment().end, "Outputs while the sticks visit every corner");
    const double last = t.ms(t.segment().end - t.segment().begin);
    for (const Side s : kSides) {
      const auto& out = s == Side::left ? c.plan.spec.left : c.plan.spec.right;
      p.series.push_back(level(Series::Role::limit, std::string(name(s)) + " limits", 0, last, out.clamp_low_us));
      p.series.push_back(level(Series::Role::limit, "", 0, last, out.clamp_high_us));
    }
    f.pictures.push_back(std::move(p));
  }
  f.when_passed = "No output runs past its limits, even with over-travel, and both reach both ends.";
  f.when_failed = "Check the output limits of that side.";
  return conclude(c, std::move(f));
}

}  // namespace

const CheckKind kLimits{"limits", "all corners of the stick square: limits kept, both ends reached", compose, judge};

}  // namespace midstick::judge
