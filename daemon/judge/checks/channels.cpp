// Channels: every input alone, then in pairs, and all outputs against the model: the whole of a free matrix, or the corners of a two-stick
// mix. Tolerances are common practice, no source.
#include <algorithm>
#include <cmath>

#include "daemon/judge/checks/checks.hpp"
#include "daemon/judge/conclude.hpp"
#include "daemon/judge/pictures.hpp"
#include "daemon/judge/sticks.hpp"
#include "daemon/judge/text.hpp"
#include "daemon/judge/uncertainty.hpp"
#include "daemon/mixer/model.hpp"
#include "daemon/mixer/slew.hpp"
#include "daemon/script/percent.hpp"
#include "daemon/statistics/summary.hpp"

namespace midstick::judge {
namespace {

constexpr std::int64_t kNeeded = 20;      // pulses on left and right
constexpr std::size_t kPulsesNeeded = 3;  // settled pulses at a position
constexpr const char* kPoint = "position";

/// Longest that a correct controller may take on purpose from one position to the next.
double moving_ms(const mixer::MixerSpec& spec) { return 1.1e3 * mixer::longest_slew_seconds(spec); }

/// Positions in percent, one number an input: alone to either side, then each pair the same way and against each other.
std::vector<std::vector<double>> positions(const script::Plan& plan, const script::PlannedCheck& check) {
  const std::size_t n = mixer::inputs(plan.spec).size();
  std::vector<std::vector<double>> all;
  const auto add = [&](std::size_t i, double a, std::size_t j, double b) {
    std::vector<double> at(n, 0);
    at[j] = b, at[i] = a;
    all.push_back(std::move(at));
  };
  const double alone = param(check, "alone_percent"), pair = param(check, "pair_percent");
  for (std::size_t i = 0; i < n; ++i) add(i, alone, i, 0), add(i, -alone, i, 0);
  for (std::size_t i = 0; i < n; ++i)
    for (std::size_t j = i + 1; j < n; ++j) add(i, pair, j, pair), add(i, -pair, j, pair);
  return all;
}

Result<script::StickScript> compose(const script::Plan& plan, const script::PlannedCheck& check, std::uint64_t seed) {
  Sticks sticks(plan, check.name, seed);
  sticks.arm();
  const auto ins = mixer::inputs(plan.spec);
  const auto hold = [&](const std::vector<double>& at, const char* mark) {
    script::Move& move = sticks.hold(at[0], at[1], param(check, "hold_ms") + moving_ms(plan.spec), mark);
    for (std::size_t i = 2; i < ins.size(); ++i) move.from[ins[i]->name] = script::width_of_percent(*ins[i], at[i]);
  };
  for (const auto& at : positions(plan, check)) hold(at, kPoint);
  hold(std::vector<double>(ins.size(), 0), "back to neutral");
  return sticks.take();
}

/// One held position: widths sent, and every output's mean. An output without enough pulses has none.
struct Point {
  std::vector<double> sent_us, seen_us, uncertainty_us;
  std::vector<bool> seen;
  BoardTime begin, end;
};

/// Pulse trains of all inputs and outputs; those that are wired twice or not at all are empty.
struct Trains {
  std::vector<PulseTrain> in, out;
};

Trains trains_of(const Context& c, const Traffic& t) {
  const auto& s = t.segment();
  const auto stimulus = edges_within(c.capture.stimulus, s.begin, s.end), response = edges_within(c.capture.response, s.begin, s.end);
  Trains all;
  for (const auto* in : mixer::inputs(c.plan.spec)) {
    const auto* pin = c.plan.controller.input(in->name);
    all.in.push_back(pin ? PulseTrain(stimulus, pin->line_no, s.begin, s.end) : PulseTrain());
  }
  for (const auto* out : mixer::outputs(c.plan.spec)) {
    const auto* pin = c.plan.controller.output(out->name);
    all.out.push_back(pin ? PulseTrain(response, pin->line_no, s.begin, s.end) : PulseTrain());
  }
  return all;
}

std::vector<Point> points_of(const Context& c, const Traffic& t) {
  const Trains trains = trains_of(c, t);
  std::vector<Point> found;
  for (const auto* mark : t.marks(kPoint)) {
    Point p;
    p.begin = mark->at, p.end = t.end_of(*mark);
    const BoardTime settled = mark->at + t.ticks_ms(param(c.check, "settle_ms") + moving_ms(c.plan.spec));
    bool complete = true;
    for (const PulseTrain& in : trains.in) {
      const Widths w = widths_of(t, in.within(mark->at, p.end));
      complete = complete && !w.us.empty();
      p.sent_us.push_back(statistics::summarise(w.us).median);
    }
    for (const PulseTrain& out : trains.out) {
      const Widths w = widths_of(t, out.within(settled, p.end));
      const statistics::Summary s = statistics::summarise(w.us);
      p.seen.push_back(w.us.size() >= kPulsesNeeded);
      p.seen_us.push_back(s.mean);
      p.uncertainty_us.push_back(p.seen.back() ? mean_uncertainty(s.sd, s.samples, w.uncertainty) : 0);
    }
    if (complete) found.push_back(std::move(p));
  }
  return found;
}

/// Signed distance of an output from what `spec` asks at a point; 0 inside.
double error_us(const Context& c, const mixer::MixerSpec& spec, const std::vector<double>& sent_us, double seen_us, std::size_t output) {
  const mixer::Interval want = mixer::expected_all_within(spec, sent_us, param(c.check, "input_us") + c.plan.frame.jitter_us)[output];
  return seen_us > want.high ? seen_us - want.high : seen_us < want.low ? seen_us - want.low : 0;
}

Measure judge_output(const Context& c, const std::vector<Point>& points, std::size_t output, std::int64_t asked) {
  const double tolerance = param(c.check, "tolerance_us");
  const Point* worst = nullptr;
  double error = 0, margin = -1e9;
  std::int64_t n = 0;
  for (const Point& p : points) {
    if (!p.seen[output]) continue;
    ++n;
    const double e = error_us(c, c.plan.spec, p.sent_us, p.seen_us[output], output), past = std::abs(e) + p.uncertainty_us[output];
    if (past > margin) worst = &p, error = e, margin = past;
  }
  const std::string name = mixer::outputs(c.plan.spec)[output]->name;
  Measure m = measure(name + " worst position", error, -tolerance, tolerance, worst ? worst->uncertainty_us[output] : 0, "us", n, asked);
  if (!worst) return m;
  std::string at;
  const auto ins = mixer::inputs(c.plan.spec);
  for (std::size_t i = 0; i < ins.size(); ++i) at += (i ? ", " : "") + ins[i]->name + " " + num(worst->sent_us[i], 0) + " us";
  m.note += (m.note.empty() ? "" : "; ") + ("at " + at + ": measured " + num(worst->seen_us[output]) + " us");
  return m;
}

/// Another spec, or another order of inputs and outputs, that the points may fit.
struct Guess {
  const char* cause;
  std::string text;
  mixer::MixerSpec spec;
  std::vector<std::size_t> input_order, output_order;
};

std::vector<Guess> guesses(const mixer::MixerSpec& spec) {
  const std::size_t n = mixer::inputs(spec).size(), m = mixer::outputs(spec).size();
  std::vector<std::size_t> in(n), out(m);
  for (std::size_t i = 0; i < n; ++i) in[i] = i;
  for (std::size_t i = 0; i < m; ++i) out[i] = i;
  std::vector<Guess> all;
  for (std::size_t i = 0; i < n; ++i) {
    mixer::MixerSpec with = spec;
    auto& which = i == 0 ? with.throttle : i == 1 ? with.steering : with.more_inputs[i - 2];
    which.reversed = !which.reversed;
    all.push_back({"reversed-or-swapped", which.name + " reversed", with, in, out});
    for (std::size_t j = i + 1; j < n; ++j) {
      auto order = in;
      std::swap(order[i], order[j]);
      all.push_back(
          {"reversed-or-swapped", mixer::inputs(spec)[i]->name + " and " + mixer::inputs(spec)[j]->name + " swapped", spec, order, out});
    }
  }
  for (std::size_t i = 0; i < m; ++i) {
    mixer::MixerSpec with = spec;
    auto& which = i == 0 ? with.left : i == 1 ? with.right : with.more_outputs[i - 2];
    which.reversed = !which.reversed;
    all.push_back({"reversed-or-swapped", which.name + " reversed", with, in, out});
    for (std::size_t j = i + 1; j < m; ++j) {
      auto order = out;
      std::swap(order[i], order[j]);
      all.push_back(
          {"reversed-or-swapped", mixer::outputs(spec)[i]->name + " and " + mixer::outputs(spec)[j]->name + " swapped", spec, in, order});
    }
  }
  using mixer::Law;
  if (spec.law == Law::matrix || spec.law == Law::table) return all;
  for (const auto& [law, name] : {std::pair{Law::halved, "a halved mix"},
                                  {Law::inner_wheel, "an inner wheel law"},
                                  {Law::curvature, "a curvature law"},
                                  {Law::elevon, "an elevon mix"},
                                  {Law::proportional, "a law that adds and subtracts"}})
    if (law != spec.law) {
      mixer::MixerSpec with = spec;
      with.law = law;
      all.push_back({"wrong-law", name, with, in, out});
    }
  return all;
}

/// A guess that every point of every output fits within the tolerance is named.
void add_causes(const Context& c, const std::vector<Point>& points, Findings& f) {
  for (const Guess& g : guesses(c.plan.spec)) {
    double worst = points.empty() ? 1e9 : 0;
    for (const Point& p : points) {
      std::vector<double> sent;
      for (const std::size_t i : g.input_order) sent.push_back(p.sent_us[i]);
      for (std::size_t o = 0; o < g.output_order.size(); ++o)
        if (p.seen[g.output_order[o]]) worst = std::max(worst, std::abs(error_us(c, g.spec, sent, p.seen_us[g.output_order[o]], o)));
    }
    if (worst <= param(c.check, "tolerance_us"))
      f.causes.push_back(
          {g.cause, 0.9,
           "with " + g.text + " all " + whole(static_cast<std::int64_t>(points.size())) + " positions fit within " + num(worst) + " us"});
  }
}

Picture by_position(const Context& c, const std::vector<Point>& points, std::size_t output) {
  Picture p;
  p.title = "Output " + mixer::outputs(c.plan.spec)[output]->name + " at each position";
  p.x_label = "position, in the order driven";
  p.y_label = "pulse width, us";
  Series want = series(Series::Role::expected, Series::Style::steps, "expected");
  Series got = series(Series::Role::measured, Series::Style::dots, "measured");
  for (std::size_t i = 0; i < points.size(); ++i) {
    point(want, static_cast<double>(i), mixer::expected_all(c.plan.spec, points[i].sent_us)[output]);
    if (points[i].seen[output]) point(got, static_cast<double>(i), points[i].seen_us[output]);
  }
  p.series = {std::move(want), std::move(got)};
  return p;
}

CheckResult judge(const Context& c) {
  auto [all, stop] = open(c, kNeeded);
  if (stop) return *stop;
  std::vector<Point> points;
  std::int64_t asked = 0;
  for (const Traffic& t : all) {
    const auto more = points_of(c, t);
    points.insert(points.end(), more.begin(), more.end());
    asked += static_cast<std::int64_t>(t.marks(kPoint).size());
  }
  Findings f;
  const std::size_t outputs = mixer::outputs(c.plan.spec).size();
  for (std::size_t o = 0; o < outputs; ++o) {
    f.measures.push_back(judge_output(c, points, o, asked));
    f.pictures.push_back(by_position(c, points, o));
  }
  const bool failing = overall(f.measures) == Verdict::fail;
  for (const Traffic& t : all) f.evidence.push_back(t.span(t.segment().begin, t.segment().end, "every input alone and in pairs", failing));
  if (failing) add_causes(c, points, f);
  f.when_passed = "Every input alone and in pairs moves every output as the mixer spec says.";
  f.when_failed = "A channel may be swapped, reversed or mixed wrongly.";
  return conclude(c, std::move(f));
}

}  // namespace

const CheckKind kChannels{"channels", "every input alone and in pairs: all outputs of a free matrix as the mixer spec says", compose,
                          judge};

}  // namespace midstick::judge
