// Static mix: a grid of held stick positions, beyond saturation too; settled outputs against the model's interval (catalogue faults 35, 51,
// 53, 54). Tolerances are common practice, no source.
#include <algorithm>
#include <cmath>

#include "daemon/judge/checks/checks.hpp"
#include "daemon/judge/conclude.hpp"
#include "daemon/judge/mix_error.hpp"
#include "daemon/judge/pictures.hpp"
#include "daemon/judge/sticks.hpp"
#include "daemon/judge/text.hpp"

namespace midstick::judge {
namespace {

constexpr std::size_t kPulsesNeeded = 4;  // settled pulses of each output at a point
constexpr std::int64_t kPointsNeeded = 4;
constexpr const char* kPoint = "point";
constexpr std::size_t kSpansShown = 8;

Result<script::StickScript> compose(const script::Plan& plan, const script::PlannedCheck& check, std::uint64_t seed) {
  Sticks sticks(plan, check.name, seed);
  sticks.arm();
  if (check.script) return sticks.play(*check.script).take();
  auto steering = check.params.at("steering_percent").get<std::vector<double>>();
  for (const double t : check.params.at("throttle_percent").get<std::vector<double>>()) {
    for (const double s : steering) sticks.hold(t, s, param(check, "hold_ms") + sticks.slewing_ms(t, s), kPoint);
    std::reverse(steering.begin(), steering.end());  // to and fro, so that neighbours follow one another
  }
  sticks.hold(0, 0, param(check, "hold_ms"), "back to neutral");
  return sticks.take();
}

std::string place(const mixer::MixerSpec& spec, const Hold& h) {
  return "throttle " + num(percent_of(spec.throttle, h.throttle_us), 0) + " %, steering " +
         num(percent_of(spec.steering, h.steering_us), 0) + " %";
}

int rank(Verdict v) { return v == Verdict::fail ? 2 : v == Verdict::inconclusive ? 1 : 0; }

/// One side at all points: the measure is the worst point; failing points become evidence.
Measure judge_side(const Context& c, const std::vector<Reading>& points, Side side, std::vector<bool>& failing) {
  const double input = param(c.check, "input_us"), tolerance = param(c.check, "tolerance_us");
  const Reading* worst = nullptr;
  Verdict verdict = Verdict::pass;
  double error = 0;
  for (std::size_t i = 0; i < points.size(); ++i) {
    const double e = error_us(c.plan.spec, points[i], side, input);
    const Verdict v = decide(e, -tolerance, tolerance, points[i].at(side).uncertainty_us);
    failing[i] = failing[i] || v == Verdict::fail;
    const bool worse = rank(v) > rank(verdict) || (v == verdict && std::abs(e) > std::abs(error));
    if (!worst || worse) worst = &points[i], verdict = v, error = e;
  }
  Measure m = measure(std::string(name(side)) + " worst point", error, -tolerance, tolerance, worst ? worst->at(side).uncertainty_us : 0,
                      "us", static_cast<std::int64_t>(points.size()), kPointsNeeded);
  if (!worst) return m;
  const mixer::Interval want = asked(c.plan.spec, *worst, side, input);
  const std::string where = place(c.plan.spec, worst->hold) + ": expected " + num(want.low) + " to " + num(want.high) + " us, measured " +
                            num(worst->at(side).mean_us) + " us (mean of " + whole(worst->at(side).pulses) + ")";
  m.note += (m.note.empty() ? "" : "; ") + where;
  return m;
}

/// Positions that the composed grid asked for and that gave no reading.
std::int64_t without_reading(const Context& c, const std::vector<Traffic>& all, std::size_t readings) {
  if (c.check.script) return 0;  // a script of the builder's own need not hold still
  std::int64_t asked = 0;
  for (const Traffic& t : all) {
    const std::vector<double>* previous = nullptr;
    for (const auto* mark : t.marks(kPoint)) {
      asked += !previous || *previous != mark->values;  // twice the same position is one rest
      previous = &mark->values;
    }
  }
  return std::max<std::int64_t>(0, asked - static_cast<std::int64_t>(readings));
}

Picture by_point(const Context& c, const std::vector<Reading>& points, const std::vector<bool>& failing, Side side) {
  Picture p;
  p.title = std::string(side == Side::left ? "Left" : "Right") + " output at each held stick position";
  p.x_label = "position, in the order driven";
  p.y_label = "pulse width, us";
  Series low = series(Series::Role::expected, Series::Style::steps, "expected, from"), high = low;
  high.label = "expected, to";
  Series measured = series(Series::Role::measured, Series::Style::dots, "measured");
  for (std::size_t i = 0; i < points.size(); ++i) {
    const mixer::Interval want = asked(c.plan.spec, points[i], side, param(c.check, "input_us"));
    const double x = static_cast<double>(i);
    point(low, x, want.low), point(high, x, want.high), point(measured, x, points[i].at(side).mean_us);
    if (failing[i] && error_us(c.plan.spec, points[i], side, param(c.check, "input_us")) != 0)
      p.bands.push_back({x - 0.5, x + 0.5, "", true});
  }
  p.series = {std::move(low), std::move(high), std::move(measured)};
  return p;
}

Picture error_map(const Context& c, const std::vector<Reading>& points, const std::vector<bool>& failing) {
  Picture p;
  p.title = "Map of the stick square: where the outputs are right";
  p.x_label = "steering, percent";
  p.y_label = "throttle, percent";
  Series good = series(Series::Role::expected, Series::Style::dots, "within tolerance");
  Series bad = series(Series::Role::measured, Series::Style::dots, "outside tolerance");
  for (std::size_t i = 0; i < points.size(); ++i)
    point(failing[i] ? bad : good, percent_of(c.plan.spec.steering, points[i].hold.steering_us),
          percent_of(c.plan.spec.throttle, points[i].hold.throttle_us));
  p.series = {std::move(good), std::move(bad)};
  return p;
}

CheckResult judge(const Context& c) {
  auto [all, stop] = open(c, static_cast<std::int64_t>(kPulsesNeeded));
  if (stop) return *stop;
  const auto points = readings(c, all, kPulsesNeeded);
  std::vector<bool> failing(points.size());
  Findings f;
  for (const Side s : kSides) f.measures.push_back(judge_side(c, points, s, failing));
  if (const auto lacking = without_reading(c, all, points.size()); lacking > 0) {
    f.measures.push_back(
        none_allowed("positions with too few pulses", lacking, lacking + static_cast<std::int64_t>(points.size()), "positions"));
    withhold(f.measures.back());
  }
  for (std::size_t i = 0; i < points.size() && f.evidence.size() < kSpansShown; ++i)
    if (failing[i])
      f.evidence.push_back(points[i].traffic->span(points[i].hold.begin, points[i].hold.end, place(c.plan.spec, points[i].hold), true));
  for (const Traffic& t : all) f.evidence.push_back(t.span(t.segment().begin, t.segment().end, "all positions", false));
  for (const Side s : kSides) f.pictures.push_back(by_point(c, points, failing, s));
  f.pictures.push_back(error_map(c, points, failing));
  f.when_passed =
      "At all " + whole(static_cast<std::int64_t>(points.size())) + " held stick positions both outputs are as the mixer spec says.";
  const auto bad = std::count(failing.begin(), failing.end(), true);
  f.when_failed = whole(bad) + " of " + whole(static_cast<std::int64_t>(points.size())) + " positions are wrong.";
  const std::string cause = consistent_with(c.plan.spec, points, param(c.check, "input_us"), param(c.check, "tolerance_us"));
  if (bad && !cause.empty()) f.when_failed += " All readings are consistent with " + cause + ".";
  if (bad) f.causes = causes_of(c.plan.spec, points, param(c.check, "input_us"), param(c.check, "tolerance_us"));
  return conclude(c, std::move(f));
}

}  // namespace

const CheckKind kStaticMix{"static-mix", "every combination of stick positions, held: outputs as the mixer spec says", compose, judge};

}  // namespace midstick::judge
