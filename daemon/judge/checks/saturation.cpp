// Saturation: full throttle, ahead and back, with growing steering. What gives way when a side would pass full speed (catalogue fault 51)?
// Turn is half the difference of the sides, speed half their sum; which way round is the sign matrix's matter. Figures: common practice,
// no source.
#include <algorithm>
#include <cmath>

#include "daemon/judge/checks/checks.hpp"
#include "daemon/judge/conclude.hpp"
#include "daemon/judge/envelope.hpp"
#include "daemon/judge/pictures.hpp"
#include "daemon/judge/positions.hpp"
#include "daemon/judge/text.hpp"

namespace midstick::judge {
namespace {

constexpr std::int64_t kNeeded = 6;
constexpr double kClearlyWorse = 3;  // the spec's own law must fit so many times worse than the named one

Result<script::StickScript> compose(const script::Plan& plan, const script::PlannedCheck& check, std::uint64_t seed) {
  std::vector<Position> positions;
  const int steps = count_param(check, "steps");
  for (const double throttle : {100.0, -100.0})
    for (int i = 0; i <= steps; ++i) positions.push_back({throttle, 100.0 * i / steps});
  Sticks sticks(plan, check.name, seed);
  hold_positions(sticks.arm(), plan, positions);
  return sticks.take();
}

/// How much a reading turns and goes, us, whichever way.
struct Shares {
  double turn, go;
};
struct ShareIntervals {
  mixer::Interval turn, go;
};

mixer::Interval magnitude(double low, double high) {
  if (low >= 0) return {low, high};
  if (high <= 0) return {-high, -low};
  return {0, std::max(-low, high)};
}

Shares measured(const Context& c, const Reading& r) {
  const double l = ahead_us(c.plan, Side::left, r.at(Side::left).mean_us), right = ahead_us(c.plan, Side::right, r.at(Side::right).mean_us);
  return {std::abs(l - right) / 2, std::abs(l + right) / 2};
}

ShareIntervals wanted(const Context& c, const mixer::MixerSpec& spec, const Reading& r) {
  const double input = param(c.check, "input_us");
  const auto l = asked_ahead(c.plan, spec, r, Side::left, input), right = asked_ahead(c.plan, spec, r, Side::right, input);
  return {magnitude((l.low - right.high) / 2, (l.high - right.low) / 2), magnitude((l.low + right.low) / 2, (l.high + right.high) / 2)};
}

/// Furthest from a law, us.
double worst(const Context& c, const mixer::MixerSpec& spec, const std::vector<Reading>& readings) {
  double worst = 0;
  for (const Reading& r : readings) {
    const Shares got = measured(c, r);
    const ShareIntervals want = wanted(c, spec, r);
    worst = std::max({worst, std::abs(outside(want.turn, got.turn)), std::abs(outside(want.go, got.go))});
  }
  return worst;
}

struct NamedLaw {
  mixer::Law law;
  const char* text;
};
constexpr NamedLaw kLaws[] = {{mixer::Law::clip, "plain clipping of each side"},
                              {mixer::Law::proportional, "the proportional law"},
                              {mixer::Law::throttle_priority, "throttle priority"},
                              {mixer::Law::steering_priority, "steering priority"},
                              {mixer::Law::halved, "a halved mix"}};

void name_causes(const Context& c, const std::vector<Reading>& readings, Findings& f) {
  const double own = worst(c, c.plan.spec, readings);
  const NamedLaw* best = nullptr;
  double least = param(c.check, "tolerance_us");
  for (const NamedLaw& l : kLaws) {
    if (l.law == c.plan.spec.law) continue;
    mixer::MixerSpec spec = c.plan.spec;
    spec.law = l.law;
    if (const double w = worst(c, spec, readings); w <= least && kClearlyWorse * w < own) best = &l, least = w;
  }
  if (!best) return;
  const auto n = static_cast<std::int64_t>(readings.size());
  f.causes.push_back({best->law == mixer::Law::clip ? "plain-clip" : "wrong-law", 0.95,
                      "all " + whole(n) + " readings lie within " + num(least) + " us of " + best->text + " and up to " + num(own) +
                          " us off the spec's law"});
}

/// Worst reading of one share: turn or speed.
struct Worst {
  double error{0}, uncertainty{0};
  Verdict verdict{Verdict::pass};
  std::string where;
};

int rank(Verdict v) { return v == Verdict::fail ? 2 : v == Verdict::inconclusive ? 1 : 0; }

void look(const Context& c, const Reading& r, const mixer::Interval& want, double got, Worst& w, bool& failing) {
  const double tolerance = param(c.check, "tolerance_us"), error = outside(want, got);
  const double u = std::hypot(r.at(Side::left).uncertainty_us, r.at(Side::right).uncertainty_us) / 2;
  const Verdict v = decide(error, -tolerance, tolerance, u);
  failing = failing || v == Verdict::fail;
  if (!w.where.empty() && rank(v) <= rank(w.verdict) && (v != w.verdict || std::abs(error) <= std::abs(w.error))) return;
  w = {error, u, v,
       place(c.plan, r.hold) + ": expected " + num(want.low) + " to " + num(want.high) + " us from neutral, measured " + num(got) + " us"};
}

Picture picture(const Context& c, const std::vector<Reading>& readings) {
  Picture p;
  p.title = "Full throttle: what is left of turn and speed";
  p.x_label = "steering, percent (back: negative)";
  p.y_label = "turn and speed, us from neutral";
  Series series_of[4] = {series(Series::Role::expected, Series::Style::dots, "turn expected"),
                         series(Series::Role::expected, Series::Style::dots, "speed expected"),
                         series(Series::Role::measured, Series::Style::dots, "turn measured"),
                         series(Series::Role::measured, Series::Style::dots, "speed measured")};
  for (const Reading& r : readings) {
    const double way = r.hold.throttle_us == c.plan.spec.throttle.centre_us       ? 1
                       : percent_of(c.plan.spec.throttle, r.hold.throttle_us) < 0 ? -1
                                                                                  : 1;
    const double x = way * percent_of(c.plan.spec.steering, r.hold.steering_us);
    const Shares got = measured(c, r);
    const ShareIntervals want = wanted(c, c.plan.spec, r);
    point(series_of[0], x, want.turn.mid()), point(series_of[1], x, want.go.mid());
    point(series_of[2], x, got.turn), point(series_of[3], x, got.go);
  }
  for (Series& s : series_of) p.series.push_back(std::move(s));
  return p;
}

CheckResult judge(const Context& c) {
  auto [all, stop] = open(c, kNeeded);
  if (stop) return *stop;
  const auto readings = read_positions(c, all);
  std::vector<bool> failing(readings.size());
  Worst turn, go;
  for (std::size_t i = 0; i < readings.size(); ++i) {
    const Shares got = measured(c, readings[i]);
    const ShareIntervals want = wanted(c, c.plan.spec, readings[i]);
    bool bad = false;
    look(c, readings[i], want.turn, got.turn, turn, bad);
    look(c, readings[i], want.go, got.go, go, bad);
    failing[i] = bad;
  }
  Findings f;
  const double tolerance = param(c.check, "tolerance_us");
  for (const auto& [what, w] : {std::pair{"turn off the spec's law", &turn}, std::pair{"speed off the spec's law", &go}}) {
    f.measures.push_back(
        measure(what, w->error, -tolerance, tolerance, w->uncertainty, "us", static_cast<std::int64_t>(readings.size()), kNeeded));
    f.measures.back().note += (f.measures.back().note.empty() ? "" : "; ") + w->where;
  }
  if (auto lacking = positions_without_reading(all, readings.size())) f.measures.push_back(*lacking);
  add_positions(c, all, readings, failing, f.evidence);
  f.pictures.push_back(picture(c, readings));
  f.pictures.push_back(positions_picture(c, readings, failing, param(c.check, "input_us"), "Both outputs at each position"));
  if (overall(f.measures) == Verdict::fail) name_causes(c, readings, f);
  f.when_passed = "At full throttle turn and speed give way as the mixer spec's law says.";
  f.when_failed = "At full speed the vehicle turns or slows otherwise than its driver is used to.";
  return conclude(c, std::move(f));
}

}  // namespace

const CheckKind kSaturation{"saturation", "full throttle with growing steering: what gives way when a side would pass full speed", compose,
                            judge};

}  // namespace midstick::judge
