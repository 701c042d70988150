#include "daemon/script/resolve.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace midstick::script {
namespace {

/// `before`, with the inputs that `named` names replaced.
Widths merged(const Widths& before, const std::map<std::string, double>& named, const ControllerDescription& controller) {
  Widths out = before;
  for (std::size_t i = 0; i < out.size(); ++i)
    if (const auto it = named.find(controller.inputs[i].name); it != named.end()) out[i] = it->second;
  return out;
}

void apply(LineFaults& line, const ChannelFault& fault) {
  switch (fault.fault) {
    case Fault::none:
      break;
    case Fault::drop:
    case Fault::stuck_low:
      line.pulse = false;
      break;
    case Fault::stuck_high:
      line.stuck_high = true;
      break;
    case Fault::runt:
      line.extras.push_back({us_to_ns(fault.at_us), us_to_ns(fault.width_us), true});
      break;
    case Fault::notch:
      line.extras.push_back({us_to_ns(fault.at_us), us_to_ns(fault.width_us), false});
      break;
    case Fault::cut:
    case Fault::storm:
      break;
  }
}

std::vector<LineFaults> lines_of(const Move& move, const ControllerDescription& controller) {
  std::vector<LineFaults> lines(controller.inputs.size());
  for (const ChannelFault& fault : move.faults)
    for (std::size_t i = 0; i < lines.size(); ++i)
      if (controller.inputs[i].name == fault.input) apply(lines[i], fault);
  return lines;
}

}  // namespace

std::int64_t length_ns(const Move& move) {
  if (move.kind != Move::Kind::points) return ms_to_ns(move.for_ms);
  return ms_to_ns(move.point_ms) * static_cast<std::int64_t>(move.points.size());
}

std::size_t ResolvedMove::point(std::int64_t t_ns) const {
  if (kind != Move::Kind::points) return 0;
  return std::min(static_cast<std::size_t>(t_ns / point_ns), points.size() - 1);
}

Widths ResolvedMove::at(std::int64_t t_ns) const {
  if (kind == Move::Kind::points) return points[point(t_ns)];
  Widths out = from;
  if (kind == Move::Kind::ramp) {
    const double share = static_cast<double>(t_ns) / static_cast<double>(length_ns);
    for (std::size_t i = 0; i < out.size(); ++i) out[i] += (to[i] - from[i]) * share;
  } else if (kind == Move::Kind::sine) {
    const double swing = std::sin(2 * std::numbers::pi * static_cast<double>(t_ns) / (period_ms * 1e6));
    for (std::size_t i = 0; i < out.size(); ++i) out[i] += amplitude[i] * swing;
  }
  return out;
}

std::vector<ResolvedMove> resolve(const StickScript& script, const ControllerDescription& controller) {
  std::vector<ResolvedMove> out;
  out.reserve(script.moves.size());
  Widths now(controller.inputs.size(), 1500.0);
  std::int64_t start = 0;
  for (const Move& move : script.moves) {
    ResolvedMove r;
    r.start_ns = start;
    r.length_ns = length_ns(move);
    r.kind = move.kind;
    r.from = merged(now, move.from, controller);
    r.to = merged(r.from, move.to, controller);
    r.amplitude = merged(Widths(now.size(), 0.0), move.amplitude_us, controller);
    r.period_ms = move.period_ms;
    r.point_ns = ms_to_ns(move.point_ms);
    for (const auto& point : move.points) r.points.push_back(merged(r.points.empty() ? now : r.points.back(), point, controller));
    r.lines = lines_of(move, controller);
    // A ramp ends at its far end exactly; rounding in at() must not creep into the next move.
    now = r.kind == Move::Kind::ramp ? r.to : r.at(r.length_ns);
    start += r.length_ns;
    out.push_back(std::move(r));
  }
  return out;
}

std::vector<std::int64_t> rises(const ReceiverFrame& frame, const ControllerDescription& controller,
                                const std::vector<std::int64_t>& widths) {
  std::vector<std::int64_t> out;
  std::int64_t next = kGapNs;
  for (std::size_t i = 0; i < widths.size(); ++i) {
    if (const auto it = frame.phase_us.find(controller.inputs[i].name); it != frame.phase_us.end()) {
      out.push_back(us_to_ns(it->second));
    } else {
      out.push_back(next);
      next += widths[i] + kGapNs;
    }
  }
  return out;
}

}  // namespace midstick::script
