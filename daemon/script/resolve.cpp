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

std::vector<LineFaults> lines_of(const Move& move, const ControllerDescription& controller) {
  std::vector<LineFaults> lines(controller.inputs.size());
  for (const ChannelFault& fault : move.faults) {
    if (fault.fault == Fault::none) continue;
    for (std::size_t i = 0; i < lines.size(); ++i) {
      if (controller.inputs[i].name != fault.input) continue;
      // Numbered among its like on its own line: taking another kind of fault away moves none of its draws.
      const auto alike = std::ranges::count(lines[i], fault.fault, &LineFault::fault);
      const std::int64_t at = us_to_ns(fault.at_us);
      lines[i].push_back({fault.fault, at, std::max(at, us_to_ns(fault.at_to_us)), us_to_ns(fault.width_us), us_to_ns(fault.for_us),
                          fault.share, (i << 16) + (static_cast<std::uint64_t>(fault.fault) << 8) + static_cast<std::uint64_t>(alike)});
    }
  }
  return lines;
}

}  // namespace

bool LineFault::takes_pulse() const {
  return fault == Fault::drop || fault == Fault::stuck_low || fault == Fault::stuck_high || fault == Fault::cut;
}

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
    r.frame = move.frame.value_or(script.frame);
    r.from = merged(now, move.from, controller);
    r.to = merged(r.from, move.to, controller);
    r.amplitude = merged(Widths(now.size(), 0.0), move.amplitude_us, controller);
    r.period_ms = move.period_ms;
    r.point_ns = ms_to_ns(move.point_ms);
    for (const auto& point : move.points) r.points.push_back(merged(r.points.empty() ? now : r.points.back(), point, controller));
    r.lines = lines_of(move, controller);
    for (const Relay& relay : controller.relays)
      r.relays.push_back(std::ranges::find(move.faults, relay.name, &ChannelFault::input) != move.faults.end());
    // A ramp ends at its far end exactly; rounding in at() must not creep into the next move.
    now = r.kind == Move::Kind::ramp ? r.to : r.at(r.length_ns);
    start += r.length_ns;
    out.push_back(std::move(r));
  }
  return out;
}

std::vector<std::int64_t> rises(const ReceiverFrame& frame, const ControllerDescription& controller,
                                const std::vector<std::int64_t>& widths) {
  std::vector<std::int64_t> out(widths.size());
  std::int64_t next = kGapNs;
  for (std::size_t n = 0; n < widths.size(); ++n) {
    const std::size_t i = frame.order == ReceiverFrame::Order::reversed ? widths.size() - 1 - n : n;
    if (const auto it = frame.phase_us.find(controller.inputs[i].name); it != frame.phase_us.end()) {
      out[i] = us_to_ns(it->second);
      continue;
    }
    out[i] = next;
    if (frame.order == ReceiverFrame::Order::overlapping)
      next += widths[i] - us_to_ns(frame.overlap_us);
    else if (frame.order != ReceiverFrame::Order::simultaneous)
      next += widths[i] + kGapNs;
  }
  return out;
}

std::int64_t shortest_ns(const ReceiverFrame& frame) { return us_to_ns(frame.period_us) - us_to_ns(frame.dither_us); }
std::int64_t longest_ns(const ReceiverFrame& frame) { return us_to_ns(frame.period_us) + us_to_ns(frame.dither_us); }

}  // namespace midstick::script
