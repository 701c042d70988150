// Dead band: a fine staircase through each stick's centre, up and down, the other stick at neutral. Where do the outputs leave neutral, and
// where does the spec say so (catalogue faults 47, 48)? Both are read with the same threshold. Tolerances: common practice, no source.
#include <algorithm>
#include <cmath>

#include "daemon/judge/checks/checks.hpp"
#include "daemon/judge/conclude.hpp"
#include "daemon/judge/pictures.hpp"
#include "daemon/judge/sticks.hpp"
#include "daemon/judge/text.hpp"
#include "daemon/judge/uncertainty.hpp"
#include "daemon/mixer/model.hpp"
#include "daemon/statistics/summary.hpp"

namespace midstick::judge {
namespace {

constexpr std::int64_t kStepsNeeded = 6;   // steps of one staircase with pulses on them
constexpr std::int64_t kShareNeeded = 60;  // percent of all steps that must be told
constexpr double kSearchStepUs = 0.25;
constexpr double kFurthestUs = 400;
const char* const kUp[] = {"throttle up", "steering up"};
const char* const kDown[] = {"throttle down", "steering down"};

const mixer::InputSpec& input(const script::Plan& plan, int i) { return i == 0 ? plan.spec.throttle : plan.spec.steering; }

/// Furthest output from its neutral that the spec asks for with one stick `off` us from centre.
double asked_off(const script::Plan& plan, int i, double off) {
  const auto& s = plan.spec;
  const auto y = i == 0 ? mixer::expected(s, s.throttle.centre_us + off, s.steering.centre_us)
                        : mixer::expected(s, s.throttle.centre_us, s.steering.centre_us + off);
  return std::max(std::abs(y.left_us - neutral_of(plan, Side::left)), std::abs(y.right_us - neutral_of(plan, Side::right)));
}

/// Where the spec lets an output leave neutral by more than `moved`, us from centre, > 0 for sign 1; kFurthestUs when nowhere.
double asked_edge(const script::Plan& plan, int i, int sign, double moved) {
  for (double off = 0; off < kFurthestUs; off += kSearchStepUs)
    if (asked_off(plan, i, sign * off) > moved) return sign * off;
  return sign * kFurthestUs;
}

Result<script::StickScript> compose(const script::Plan& plan, const script::PlannedCheck& check, std::uint64_t seed) {
  Sticks sticks(plan, check.name, seed);
  sticks.arm();
  const double step = param(check, "step_us"), moved = param(check, "moved_us");
  for (int i = 0; i < 2; ++i) {
    double reach = param(check, "reach_us");
    for (const int sign : {1, -1})
      reach = std::max(reach, std::abs(asked_edge(plan, i, sign, moved)) + param(check, "tolerance_us") + 3 * step);
    const int steps = static_cast<int>(std::ceil(reach / step));
    const double t = plan.spec.throttle.centre_us, s = plan.spec.steering.centre_us;
    const auto hold = [&](int n, const char* mark) {
      sticks.hold_us(t + (i == 0 ? n * step : 0), s + (i == 1 ? n * step : 0), param(check, "hold_ms"), mark);
    };
    for (int n = -steps; n <= steps; ++n) hold(n, kUp[i]);
    for (int n = steps; n >= -steps; --n) hold(n, kDown[i]);
  }
  sticks.hold(0, 0, param(check, "hold_ms"), "back to neutral");
  return sticks.take();
}

struct Step {
  double off_us;          ///< stick from centre, as sent
  double out_us[2];       ///< median of each output
  double uncertainty_us;  ///< U (95 %) of their widths
  BoardTime begin, end;
};

/// One staircase sorted from low to high.
std::vector<Step> staircase(const Context& c, const Traffic& t, int i, const char* label) {
  std::vector<Step> steps;
  for (const auto* mark : t.marks(label)) {
    const BoardTime begin = mark->at + t.ticks_ms(param(c.check, "settle_ms")), end = t.end_of(*mark);
    const Widths in = widths_of(t, (i == 0 ? t.throttle() : t.steering()).within(mark->at, end));
    const Widths left = widths_of(t, t.output(Side::left).within(begin, end));
    const Widths right = widths_of(t, t.output(Side::right).within(begin, end));
    if (in.us.empty() || left.us.empty() || right.us.empty()) continue;
    steps.push_back({statistics::summarise(in.us).median - input(c.plan, i).centre_us,
                     {statistics::summarise(left.us).median, statistics::summarise(right.us).median},
                     std::max(left.uncertainty, right.uncertainty),
                     mark->at,
                     end});
  }
  std::sort(steps.begin(), steps.end(), [](const Step& a, const Step& b) { return a.off_us < b.off_us; });
  return steps;
}

/// U of the difference between a step's output and the centre's.
double difference_uncertainty(const Step& s) { return std::sqrt(2.0) * s.uncertainty_us; }

/// Output furthest from where it rests at the staircase's centre: a neutral that is off by itself is not a dead band's matter.
std::vector<double> moved_by(const std::vector<Step>& steps) {
  const auto centre =
      std::min_element(steps.begin(), steps.end(), [](const Step& a, const Step& b) { return std::abs(a.off_us) < std::abs(b.off_us); });
  std::vector<double> moved;
  for (const Step& s : steps)
    moved.push_back(std::max(std::abs(s.out_us[0] - centre->out_us[0]), std::abs(s.out_us[1] - centre->out_us[1])));
  return moved;
}

/// Where the outputs left neutral: between `rest`, the last step on which they rested, and `gone`. Both the same: they rested to the end.
struct Edge {
  double rest{0}, gone{0};
  double rest_uncertainty_us{0}, gone_uncertainty_us{0};  ///< of the outputs on these steps, from the centre's
  double middle() const { return (rest + gone) / 2; }
};

/// From the centre outward.
Edge found_edge(const std::vector<Step>& steps, const std::vector<double>& moved, int sign, double threshold) {
  Edge e;
  const auto n = static_cast<int>(steps.size());
  for (int i = sign > 0 ? 0 : n - 1; i >= 0 && i < n; i += sign) {
    const Step& s = steps[static_cast<std::size_t>(i)];
    if (sign * s.off_us < 0) continue;
    e.gone = s.off_us, e.gone_uncertainty_us = difference_uncertainty(s);
    if (moved[static_cast<std::size_t>(i)] > threshold) return e;
    e.rest = e.gone, e.rest_uncertainty_us = e.gone_uncertainty_us;
  }
  return e;
}

/// One edge of one input's band, of every staircase walked.
struct Edges {
  std::vector<double> up, down;
  double half_gap_us{0};         ///< largest half distance between the two steps that hold the edge
  double out_uncertainty_us{0};  ///< largest of the outputs on these steps

  void add(const Edge& e, bool upward) {
    (upward ? up : down).push_back(e.middle());
    half_gap_us = std::max(half_gap_us, std::abs(e.gone - e.rest) / 2);
    out_uncertainty_us = std::max({out_uncertainty_us, e.rest_uncertainty_us, e.gone_uncertainty_us});
  }
  std::vector<double> all() const {
    std::vector<double> both = up;
    both.insert(both.end(), down.begin(), down.end());
    return both;
  }
};

struct Walks {
  Edges low, high;
  std::int64_t steps{0}, asked{0};
};

/// Steps whose widths cannot be told from neutral by the threshold are left out; the gap they leave widens the edge's uncertainty.
void walk(const Context& c, const Traffic& t, int i, bool up, Walks& w) {
  const double threshold = param(c.check, "moved_us");
  auto steps = staircase(c, t, i, (up ? kUp : kDown)[i]);
  std::erase_if(steps, [&](const Step& s) { return difference_uncertainty(s) >= threshold; });
  w.asked += static_cast<std::int64_t>(t.marks((up ? kUp : kDown)[i]).size());
  w.steps += static_cast<std::int64_t>(steps.size());
  if (static_cast<std::int64_t>(steps.size()) < kStepsNeeded) return;
  const auto moved = moved_by(steps);
  w.low.add(found_edge(steps, moved, -1, threshold), up);
  w.high.add(found_edge(steps, moved, 1, threshold), up);
}

/// U of an edge: it lies anywhere between two steps (all walks share the same ones, so averaging does not narrow it), and the outputs'
/// difference from the centre may pass the threshold early or late.
double edge_uncertainty(const Context& c, int i, int sign, const Edges& e) {
  const double moved = param(c.check, "moved_us");
  const double early = std::abs(asked_edge(c.plan, i, sign, moved - e.out_uncertainty_us)),
               late = std::abs(asked_edge(c.plan, i, sign, moved + e.out_uncertainty_us));
  return std::hypot(rectangular_uncertainty(e.half_gap_us), (late - early) / 2);
}

void judge_input(const Context& c, const std::vector<Traffic>& all, int i, Findings& f) {
  Walks w;
  for (const Traffic& t : all)
    for (const bool up : {true, false}) walk(c, t, i, up, w);
  const double tolerance = param(c.check, "tolerance_us"), moved = param(c.check, "moved_us");
  const std::string who = i == 0 ? "throttle" : "steering";
  const auto edge = [&](const char* what, const Edges& e, int sign) {
    const double asked = asked_edge(c.plan, i, sign, moved), u = edge_uncertainty(c, i, sign, e);
    const std::int64_t needed = std::max(w.asked * kShareNeeded / 100, 2 * kStepsNeeded);
    Measure m = measure(who + what, statistics::summarise(e.all()).mean, asked - tolerance, asked + tolerance, u, "us",
                        e.all().empty() ? 0 : w.steps, needed);
    const std::string note = "outputs should leave neutral by " + num(moved) + " us at " + num(asked) + " us from centre; upward " +
                             num(statistics::summarise(e.up).mean) + ", downward " + num(statistics::summarise(e.down).mean) + " us";
    m.note += (m.note.empty() ? "" : "; ") + note;
    f.measures.push_back(std::move(m));
  };
  edge(" band low edge", w.low, -1);
  edge(" band high edge", w.high, 1);
}

/// Which other dead band puts the edges where they were found? No band at all before one of another kind or width.
void add_causes(const Context& c, Findings& f) {
  using mixer::DeadBandKind;
  const double moved = param(c.check, "moved_us");
  const auto furthest = [&](const auto& change) {
    script::Plan other;
    other.spec = c.plan.spec;
    change(other.spec.throttle), change(other.spec.steering);
    double worst = 0;
    for (int i = 0; i < 2; ++i)
      for (const int high : {0, 1})
        worst = std::max(
            worst, std::abs(f.measures[static_cast<std::size_t>(2 * i + high)].measured - asked_edge(other, i, high ? 1 : -1, moved)));
    return worst;
  };
  const auto found = [&] {
    std::string text = "edges at";
    for (const Measure& m : f.measures) text += " " + num(m.measured);
    return text + " us from centre";
  }();
  const double step = param(c.check, "step_us"), tolerance = param(c.check, "tolerance_us");
  const double none = furthest([](auto& in) { in.dead_band = DeadBandKind::none, in.dead_band_half_us = 0; });
  if (none <= std::max(step, tolerance / 2)) {
    f.causes.push_back(
        {"no-dead-band", 0.95 - 0.02 * none, found + "; without a band the spec would have them within " + num(none) + " us of there"});
    return;
  }
  double best = 1e9;
  for (const auto kind : {DeadBandKind::jump, DeadBandKind::continuous})
    best = std::min(best, furthest([&](auto& in) { in.dead_band = kind; }));
  for (const double factor : {0.5, 0.75, 1.25, 1.5, 2.0, 2.5, 3.0})
    best = std::min(best, furthest([&](auto& in) { in.dead_band_half_us *= factor; }));
  if (best <= std::max(step, tolerance / 2))
    f.causes.push_back({"dead-band-kind", 0.85, found + "; a band of another kind or width has them within " + num(best) + " us of there"});
}

Picture picture(const Context& c, const Traffic& t, int i) {
  Picture p;
  p.title = std::string(i == 0 ? "Throttle" : "Steering") + " through its centre";
  p.x_label = "stick from centre, us";
  p.y_label = "output, us";
  const auto steps = staircase(c, t, i, kUp[i]);
  const auto& spec = c.plan.spec;
  for (const Side s : kSides) {
    Series want = series(Series::Role::expected, Series::Style::line, std::string(name(s)) + " expected");
    Series got = series(Series::Role::measured, Series::Style::dots, std::string(name(s)) + " measured");
    for (const Step& step : steps) {
      const auto y = i == 0 ? mixer::expected(spec, spec.throttle.centre_us + step.off_us, spec.steering.centre_us)
                            : mixer::expected(spec, spec.throttle.centre_us, spec.steering.centre_us + step.off_us);
      point(want, step.off_us, s == Side::left ? y.left_us : y.right_us);
      point(got, step.off_us, step.out_us[static_cast<int>(s)]);
    }
    p.series.push_back(std::move(want));
    p.series.push_back(std::move(got));
  }
  const double moved = param(c.check, "moved_us");
  p.bands.push_back({asked_edge(c.plan, i, -1, moved), asked_edge(c.plan, i, 1, moved), "dead band as specified", false});
  return p;
}

CheckResult judge(const Context& c) {
  auto [all, stop] = open(c, kStepsNeeded);
  if (stop) return *stop;
  Findings f;
  for (int i = 0; i < 2; ++i) judge_input(c, all, i, f);
  for (int i = 0; i < 2; ++i) {
    const bool failing = f.measures[static_cast<std::size_t>(2 * i)].verdict == Verdict::fail ||
                         f.measures[static_cast<std::size_t>(2 * i + 1)].verdict == Verdict::fail;
    for (const Traffic& t : all) {
      const auto up = t.marks(kUp[i]), down = t.marks(kDown[i]);
      if (!up.empty() && !down.empty())
        f.evidence.push_back(
            t.span(up.front()->at, t.end_of(*down.back()), std::string(i == 0 ? "throttle" : "steering") + " staircase", failing));
    }
    f.pictures.push_back(picture(c, all.front(), i));
  }
  if (overall(f.measures) == Verdict::fail) add_causes(c, f);
  f.when_passed = "Around each stick's centre the outputs rest at neutral as far as the mixer spec says, and no further.";
  f.when_failed = "Too narrow a band lets the vehicle creep with the sticks released; too wide a one feels dead.";
  return conclude(c, std::move(f));
}

}  // namespace

const CheckKind kDeadBand{"dead-band", "fine steps around each stick's centre: where the outputs leave neutral", compose, judge};

}  // namespace midstick::judge
