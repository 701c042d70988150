#include "daemon/judge/positions.hpp"

#include <algorithm>
#include <cmath>

#include "daemon/judge/decision.hpp"
#include "daemon/judge/pictures.hpp"
#include "daemon/judge/text.hpp"
#include "daemon/judge/uncertainty.hpp"
#include "daemon/mixer/slew.hpp"
#include "daemon/script/percent.hpp"
#include "daemon/statistics/summary.hpp"

namespace midstick::judge {
namespace {

constexpr const char* kHeld = "held";
constexpr std::size_t kPulsesNeeded = 2;
constexpr double kFramesRead = 3;   // one of them may be cut in two by the end of settling
constexpr double kWayPerClock = 4;  // centre lies three travels from 0: 1 % of 1500 us is 3 % of the travel; and one for the clock itself
constexpr std::size_t kSpansShown = 8;

/// Where the sticks were put, as composed. What the controller made of it would not do: a track that is meant to rest may seem to turn.
Position position_of(const Context& c, const capture::Mark& mark) {
  Position p;
  const auto& inputs = c.plan.controller.inputs;
  for (std::size_t i = 0; i < std::min(inputs.size(), mark.values.size()); ++i) {
    if (inputs[i].name == c.plan.spec.throttle.name) p.throttle = percent_of(c.plan.spec.throttle, mark.values[i]);
    if (inputs[i].name == c.plan.spec.steering.name) p.steering = percent_of(c.plan.spec.steering, mark.values[i]);
  }
  return p;
}

/// A clock that is off sees the sticks a little aside, and a slewed machine is longer on its way there.
double settle_on_its_clock_ms(const script::Plan& plan, Position from, Position to) {
  return settle_ms(plan, from, to) * (1 + kWayPerClock * plan.spec.clock_percent / 100);
}

}  // namespace

double settle_ms(const script::Plan& plan, Position from, Position to) {
  const auto& spec = plan.spec;
  const auto sticks = [&](Position p) {
    return mixer::Pair{mixer::stick(spec.throttle, script::width_of_percent(spec.throttle, p.throttle)),
                       mixer::stick(spec.steering, script::width_of_percent(spec.steering, p.steering))};
  };
  return plan.frame.period_us / 1e3 + spec.latency_max_ms + 1e3 * mixer::settle_seconds(spec, sticks(from), sticks(to));
}

void hold_positions(Sticks& sticks, const script::Plan& plan, const std::vector<Position>& positions) {
  Position from;
  for (const Position& p : positions) {
    sticks.hold(p.throttle, p.steering, settle_on_its_clock_ms(plan, from, p) + kFramesRead * plan.spec.frame.period_high_ms, kHeld);
    from = p;
  }
  sticks.hold(0, 0, settle_ms(plan, from, {}) + plan.spec.frame.period_high_ms, "back to neutral");
}

std::vector<Reading> read_positions(const Context& c, const std::vector<Traffic>& all) {
  std::vector<Reading> found;
  for (const Traffic& t : all) {
    Position from;
    for (const auto* mark : t.marks(kHeld)) {
      const BoardTime end = t.end_of(*mark);
      Reading r{{mark->at, end}, &t, {}};
      const Widths throttle = widths_of(t, t.throttle().within(mark->at, end));
      const Widths steering = widths_of(t, t.steering().within(mark->at, end));
      if (throttle.us.empty() || steering.us.empty()) continue;
      const statistics::Summary ts = statistics::summarise(throttle.us), ss = statistics::summarise(steering.us);
      r.hold.throttle_us = (ts.min + ts.max) / 2, r.hold.steering_us = (ss.min + ss.max) / 2;
      r.hold.half_us = std::max(ts.max - ts.min, ss.max - ss.min) / 2;
      const Position to = position_of(c, *mark);
      const BoardTime settled = mark->at + t.ticks_ms(settle_on_its_clock_ms(c.plan, from, to));
      from = to;
      bool enough = true;
      for (const Side s : kSides) {
        const Widths w = widths_of(t, t.output(s).within(settled, end));
        enough = enough && w.us.size() >= kPulsesNeeded;
        const statistics::Summary sum = statistics::summarise(w.us);
        r.side[static_cast<int>(s)] = {sum.mean, w.uncertainty, sum.samples};
      }
      if (enough) found.push_back(r);
    }
  }
  return found;
}

std::optional<Measure> positions_without_reading(const std::vector<Traffic>& all, std::size_t readings) {
  std::int64_t asked = 0;
  for (const Traffic& t : all) asked += static_cast<std::int64_t>(t.marks(kHeld).size());
  const auto lacking = asked - static_cast<std::int64_t>(readings);
  if (lacking <= 0 && asked > 0) return std::nullopt;
  Measure m = none_allowed("positions with too few pulses", lacking, asked, "positions");
  withhold(m);
  return m;
}

double ahead_us(const script::Plan& plan, Side s, double width_us) {
  const double off = width_us - neutral_of(plan, s);
  return (s == Side::left ? plan.spec.left : plan.spec.right).reversed ? -off : off;
}

mixer::Interval asked_ahead(const script::Plan& plan, const mixer::MixerSpec& spec, const Reading& r, Side s, double input_us) {
  const mixer::Interval want = asked(spec, r, s, input_us);
  const double a = ahead_us(plan, s, want.low), b = ahead_us(plan, s, want.high);
  return {std::min(a, b), std::max(a, b)};
}

double outside(const mixer::Interval& range, double x) { return x > range.high ? x - range.high : x < range.low ? x - range.low : 0; }

std::string place(const script::Plan& plan, const Hold& h) {
  return "throttle " + num(percent_of(plan.spec.throttle, h.throttle_us), 0) + " %, steering " +
         num(percent_of(plan.spec.steering, h.steering_us), 0) + " %";
}

Picture positions_picture(const Context& c, const std::vector<Reading>& readings, const std::vector<bool>& failing, double input_us,
                          std::string title) {
  Picture p;
  p.title = std::move(title);
  p.x_label = "position, in the order driven";
  p.y_label = "pulse width, us";
  for (const Side s : kSides) {
    Series want = series(Series::Role::expected, Series::Style::dots, std::string(name(s)) + " expected");
    Series got = series(Series::Role::measured, Series::Style::dots, std::string(name(s)) + " measured");
    for (std::size_t i = 0; i < readings.size(); ++i) {
      const double x = static_cast<double>(i);
      point(want, x, asked(c.plan.spec, readings[i], s, input_us).mid());
      point(got, x, readings[i].at(s).mean_us);
    }
    p.series.push_back(std::move(want));
    p.series.push_back(std::move(got));
  }
  for (std::size_t i = 0; i < readings.size(); ++i) {
    const double x = static_cast<double>(i);
    if (failing[i]) p.bands.push_back({x - 0.5, x + 0.5, place(c.plan, readings[i].hold), true});
  }
  return p;
}

void add_positions(const Context& c, const std::vector<Traffic>& all, const std::vector<Reading>& readings,
                   const std::vector<bool>& failing, std::vector<Span>& evidence) {
  for (std::size_t i = 0; i < readings.size() && evidence.size() < kSpansShown; ++i)
    if (failing[i])
      evidence.push_back(readings[i].traffic->span(readings[i].hold.begin, readings[i].hold.end, place(c.plan, readings[i].hold), true));
  for (const Traffic& t : all) evidence.push_back(t.span(t.segment().begin, t.segment().end, "all positions", false));
}

}  // namespace midstick::judge
