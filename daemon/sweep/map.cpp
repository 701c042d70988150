#include "daemon/sweep/map.hpp"

#include <algorithm>
#include <cmath>

#include "daemon/judge/uncertainty.hpp"
#include "daemon/statistics/summary.hpp"
#include "daemon/sweep/extremes.hpp"
#include "daemon/sweep/play.hpp"
#include "daemon/sweep/trace.hpp"

namespace midstick::sweep {
namespace {

constexpr double kAtCentreUs = 6;
/// A controller counts in steps of 0.5 us or finer (16 MHz / 8; common practice, no source), and rounds: its numbers are known no better.
constexpr double kCountUs = 0.5;

class Mapper {
 public:
  Mapper(const capture::Capture& capture, const script::ControllerDescription& controller, Map& map)
      : lines_(capture, controller), controller_(controller), legs_(legs_of(capture.segments[kCourseSegment])), map_(map) {
    read_ms_ = read_ms(map.settings, map.probed.pace);
  }

  const Lines& lines() const { return lines_; }

  Status curves() {
    for (std::size_t i = 0; i < map_.inputs.size(); ++i) {
      const auto up = of(kSlowUp + map_.inputs[i]), down = of(kSlowDown + map_.inputs[i]), tiny = of(kTiny + map_.inputs[i]);
      if (up.size() < 20 || down.size() < 20)
        return Error{ErrorKind::bench_unfit, "the sweep of input \"" + map_.inputs[i] + "\" is missing from the capture"};
      for (std::size_t o = 0; o < map_.outputs.size(); ++o) map_.curves.push_back(curve(i, o, up, down, tiny));
    }
    return Ok{};
  }

  Status levels() {
    const auto all = readings(lines_, legs_, "", read_ms_);
    for (std::size_t o = 0; o < map_.outputs.size(); ++o) {
      std::vector<Level> levels;
      for (const Reading& r : all) levels.push_back(r.out[o]);
      auto seen = extremes(levels);
      if (!seen)
        return Error{ErrorKind::bench_unfit, "output \"" + map_.outputs[o] + "\" never settled while the sticks were held: nothing to map"};
      for (Value* v : {&seen->low, &seen->high}) v->u = std::hypot(v->u, judge::rectangular_uncertainty(kCountUs / 2));
      map_.neutral.push_back(map_.curve(0, o).neutral);
      map_.low.push_back(seen->low), map_.high.push_back(seen->high);
    }
    return Ok{};
  }

  void grid() {
    for (const Reading& r : of(kGrid)) {
      const bool settled = std::ranges::all_of(r.out, &Level::settled);
      if (settled)
        map_.grid.push_back({r.in, r.out});
      else
        ++map_.unsettled;
    }
    std::ranges::stable_sort(map_.grid, {}, [](const GridPoint& p) { return std::pair(std::round(p.in[0]), std::round(p.in[1])); });
    for (std::size_t o = 0; o < map_.outputs.size() && map_.inputs.size() > 1; ++o) map_.coupling.push_back(coupling(o));
  }

 private:
  std::vector<Reading> of(const std::string& label) const { return readings(lines_, legs_, label, read_ms_); }

  CurveMap curve(std::size_t i, std::size_t o, const std::vector<Reading>& up, const std::vector<Reading>& down,
                 const std::vector<Reading>& tiny) const {
    CurveMap c;
    c.input = map_.inputs[i], c.output = map_.outputs[o];
    c.slew = map_.probed.slew[i][o];
    double readings_u = 0;
    std::vector<double> centre;
    for (const auto* way : {&up, &down})
      for (const Reading& r : *way) {
        if (!r.out[o].settled()) continue;
        c.points.push_back({r.in[i], r.out[o], way == &up});
        readings_u = std::max(readings_u, r.out[o].u);
        if (std::abs(r.in[i] - map_.settings.centre_us) <= kAtCentreUs) centre.push_back(r.out[o].us);
      }
    const double common = std::hypot(readings_u, judge::rectangular_uncertainty(kCountUs / 2));
    const auto s = statistics::summarise(centre);
    c.neutral = {s.median, judge::mean_uncertainty(s.sd, s.samples, common)};
    c.low = side(c, false, common), c.high = side(c, true, common);
    c.answers = c.low.fit.answers || c.high.fit.answers;
    if (!c.answers) return c;
    ways(c);
    c.smallest_step = smallest_step(tiny, i, o);
    c.fast = fast(c, i, o);
    return c;
  }

  SideMap side(const CurveMap& c, bool high, double common) const {
    const double centre = map_.settings.centre_us, sign = high ? 1 : -1;
    std::vector<SidePoint> points;
    for (const CurvePoint& p : c.points)
      if (sign * (p.in - centre) >= -0.5) points.push_back({sign * (p.in - centre), p.out.us, p.up == high});
    SideMap out;
    out.fit = fit_side(points, c.neutral.value, common);
    const auto placed = [&](const std::optional<Value>& v) -> std::optional<Value> {
      return v ? std::optional<Value>({centre + sign * v->value, v->u}) : std::nullopt;
    };
    out.edge = placed(out.fit.edge), out.leaving = placed(out.fit.leaving), out.entering = placed(out.fit.entering);
    out.end = placed(out.fit.end);
    if (out.leaving && out.entering)
      out.hysteresis = Value{out.fit.leaving->value - out.fit.entering->value, std::hypot(out.leaving->u, out.entering->u)};
    out.gain_from = centre + sign * out.fit.gain_from, out.gain_to = centre + sign * out.fit.gain_to;
    if (out.fit.gain) out.fit.gain->value *= sign;  // per us of input, whichever way that moves
    return out;
  }

  /// Hysteresis between the two ways, and steps against the curve's own direction.
  void ways(CurveMap& c) const {
    const auto [near, far] = std::pair(c.points.front().out.us, c.points[c.points.size() / 2].out.us);
    const double direction = far > near ? 1 : -1;
    for (std::size_t i = 1; i < c.points.size(); ++i) {
      const CurvePoint &a = c.points[i - 1], &b = c.points[i];
      if (a.up != b.up) continue;
      const double back = -direction * (b.up ? 1 : -1) * (b.out.us - a.out.us);
      if (back > c.step_back) c.step_back = back, c.step_back_u = std::hypot(a.out.u, b.out.u);
    }
    c.monotonic = c.step_back <= std::max(c.step_back_u, 1.0);  // a controller's own rounding is no step back
    for (const CurvePoint& a : c.points)
      for (const CurvePoint& b : c.points)
        if (a.up && !b.up && std::abs(a.in - b.in) < 0.5 && std::abs(a.out.us - b.out.us) > c.hysteresis.value)
          c.hysteresis = {std::abs(a.out.us - b.out.us), std::hypot(a.out.u, b.out.u)};
  }

  std::optional<double> smallest_step(const std::vector<Reading>& tiny, std::size_t i, std::size_t o) const {
    for (std::size_t lag = 1; lag <= 12 && lag < tiny.size(); ++lag) {
      bool shows = true;
      for (std::size_t n = lag; n < tiny.size(); ++n) {
        const Level &a = tiny[n - lag].out[o], &b = tiny[n].out[o];
        shows = shows && a.pulses && b.pulses && std::abs(a.us - b.us) > std::hypot(a.u, b.u);
      }
      if (shows) return (tiny.back().in[i] - tiny.front().in[i]) / static_cast<double>(tiny.size() - 1) * static_cast<double>(lag);
    }
    return std::nullopt;
  }

  std::optional<FastMap> fast(const CurveMap& c, std::size_t i, std::size_t o) const {
    const Slow slow(c.points);
    std::optional<FastMap> worst;
    for (const Leg& leg : legs_) {
      const bool up = leg.label == kFastUp + c.input;
      if (!up && leg.label != kFastDown + c.input) continue;
      const auto stick = [&](double ms) {
        const auto* sent = lines_.input(i).last_fallen(leg.begin + lines_.ticks_ms(ms));
        return sent ? lines_.us(*sent) : map_.settings.centre_us;
      };
      const auto f = follow(slow, moving(lines_, leg, o, 0), stick, up);
      if (f && (!worst || f->residual_us > worst->residual_us)) worst = f;
    }
    return worst;
  }

  Coupling coupling(std::size_t o) const {
    Coupling out{map_.outputs[o]};
    const auto alone = [&](std::size_t i, double in) { return Slow(map_.curve(i, o).points).at(in, true) - map_.neutral[o].value; };
    for (const GridPoint& p : map_.grid) {
      const double sum = map_.neutral[o].value + alone(0, p.in[0]) + alone(1, p.in[1]), off = std::abs(p.out[o].us - sum);
      if (off > out.largest_us) out.largest_us = off, out.at_first = p.in[0], out.at_second = p.in[1];
      if (sum > map_.low[o].value && sum < map_.high[o].value) out.unclipped_us = std::max(out.unclipped_us, off);
      out.u = std::max(out.u, std::sqrt(3.0) * p.out[o].u);  // of three readings
    }
    return out;
  }

  Lines lines_;
  const script::ControllerDescription& controller_;
  std::vector<Leg> legs_;
  Map& map_;
  double read_ms_{0};
};

}  // namespace

Result<Map> map_of(const capture::Capture& capture, const script::ControllerDescription& controller, const Settings& settings) {
  if (capture.segments.size() <= kCourseSegment) return Error{ErrorKind::bench_unfit, "the capture holds no sweep"};
  Map map;
  map.controller = controller.name, map.bench = capture.identity.bench_address, map.settings = settings;
  for (const auto& pin : controller.inputs) map.inputs.push_back(pin.name);
  for (const auto& pin : controller.outputs) map.outputs.push_back(pin.name);
  auto probed = pace_of(Lines(capture, controller), legs_of(capture.segments[kProbeSegment]), controller, settings);
  if (!probed) return probed.error();
  map.probed = probed.take();
  Mapper mapper(capture, controller, map);
  if (auto s = mapper.curves(); !s) return s.error();
  if (auto s = mapper.levels(); !s) return s.error();
  mapper.grid();
  map.board_s = mapper.lines().ms(capture.end - capture.begin) / 1e3;
  return map;
}

}  // namespace midstick::sweep
