#include "daemon/judge/steady.hpp"

#include <algorithm>
#include <cmath>

#include "daemon/statistics/summary.hpp"

namespace midstick::judge {

double settled_after_ms(const script::Plan& plan, double travels) {
  double slew_ms = 0;
  for (const auto* in : {&plan.spec.throttle, &plan.spec.steering})
    for (const double rate : {in->slew_up, in->slew_down})
      if (rate > 0) slew_ms = std::max(slew_ms, travels / rate * 1e3);
  return plan.spec.latency_max_ms + slew_ms + 2 * plan.spec.frame.period_high_ms;
}

script::ReceiverFrame exact_frames(const script::Plan& plan) {
  script::ReceiverFrame frame = plan.frame;
  frame.dither_us = 0;
  return frame;
}

std::optional<double> rest_us(const Traffic& traffic, Side side, BoardTime begin, BoardTime end) {
  const auto pulses = traffic.output(side).within(begin, end);
  if (pulses.size() < 2) return {};
  return statistics::summarise(widths_of(traffic, pulses).us).median;
}

Departure departure(const Traffic& traffic, Side side, double rest, double allowed_us, BoardTime begin, BoardTime end) {
  Departure d;
  for (const Pulse& p : traffic.output(side).falling_in(begin, end)) {
    const double off = traffic.us(p) - rest;
    ++d.pulses;
    if (!d.furthest || std::abs(off) > std::abs(d.furthest_us)) d.furthest = p, d.furthest_us = off;
    if (std::abs(off) <= allowed_us + traffic.width_uncertainty(p)) continue;
    ++d.away;
    if (!d.first) d.first = p.fall;
    d.last = p.fall;
  }
  return d;
}

const capture::Mark* mark_before(const Traffic& traffic, const capture::Mark& mark) {
  const capture::Mark* before = nullptr;
  for (const auto& m : traffic.segment().marks)
    if (m.at < mark.at) before = &m;
  return before;
}

const capture::Mark* next_mark(const Traffic& traffic, const std::string& label, BoardTime after) {
  for (const auto* m : traffic.marks(label))
    if (m->at > after) return m;
  return nullptr;
}

}  // namespace midstick::judge
