#include "daemon/script/feasible.hpp"

#include <algorithm>
#include <cmath>
#include <cstdio>

#include "daemon/script/resolve.hpp"

namespace midstick::script {
namespace {

using Message = std::optional<std::string>;

std::string number(double value) {
  char text[32];
  std::snprintf(text, sizeof text, "%g", value);
  return text;
}

/// False for NaN as well.
bool within(double x, double low, double high) { return x >= low && x <= high; }

Message outside(const std::string& what, double x, double low, double high, const char* unit) {
  if (within(x, low, high)) return std::nullopt;
  return "found " + what + " of " + number(x) + " " + unit + "; expected " + number(low) + " to " + number(high) + " " + unit;
}

bool known(const ControllerDescription& controller, const std::string& input) { return controller.input(input) != nullptr; }

Message bad_name(const ControllerDescription& controller, const std::map<std::string, double>& named) {
  for (const auto& [input, value] : named)
    if (!known(controller, input)) return "found the input " + input + ", which controller " + controller.name + " does not have";
  return std::nullopt;
}

Message bad_frame(const ReceiverFrame& frame, const ControllerDescription& controller) {
  if (auto m = outside("a frame period", frame.period_us, 2500, 50000, "us")) return m;
  if (auto m = outside("a jitter", frame.jitter_us, 0, 500, "us")) return m;
  if (auto m = outside("a dither", frame.dither_us, 0, frame.period_us / 2, "us")) return m;
  if (frame.order == ReceiverFrame::Order::overlapping)
    if (auto m = outside("an overlap", frame.overlap_us, 0, frame.period_us, "us")) return m;
  for (const auto* named : {&frame.phase_us, &frame.drift_us})
    if (auto m = bad_name(controller, *named)) return m;
  for (const auto& [input, drift] : frame.drift_us)
    if (auto m = outside("a drift of " + input, drift, -frame.period_us, frame.period_us, "us")) return m;
  for (const auto& [input, phase] : frame.phase_us)
    if (auto m = outside("a phase of " + input, phase, 0, frame.period_us, "us")) return m;
  return std::nullopt;
}

/// Lengths first: everything after relies on them being finite.
Message bad_length(const Move& move, const ReceiverFrame& frame) {
  const std::string why = " (at least one frame)";
  const double least = frame.period_us / 1e3;
  const double half_ns = 5e-7;  // a length and a period that are the same to the ns are the same
  const bool points = move.kind == Move::Kind::points;
  const double length = points ? move.point_ms : move.for_ms;
  if (points && move.points.empty()) return "found a move without points; expected at least one";
  if (points && move.points.size() > kMaxPoints) return "found " + std::to_string(move.points.size()) + " points; expected at most 20000";
  if (!within(length, least - half_ns, kMaxLengthMs))
    return *outside(points ? "a rest at each point" : "a move", length, least, kMaxLengthMs, "ms") + why;
  if (move.kind == Move::Kind::sine)
    if (auto m = outside("a sine period", move.period_ms, 0.1, kMaxLengthMs, "ms")) return m;
  return outside("a delay of actions", move.action_within_ms, 0, points ? kMaxLengthMs : move.for_ms, "ms");
}

Message bad_names(const Move& move, const ControllerDescription& controller) {
  for (const auto* named : {&move.from, &move.to, &move.amplitude_us})
    if (auto m = bad_name(controller, *named)) return m;
  for (const auto& point : move.points)
    if (auto m = bad_name(controller, point)) return m;
  for (const ChannelFault& fault : move.faults) {
    if (controller.relay(fault.input)) {
      if (fault.fault == Fault::stuck_high && fault.share >= 1) continue;
      return "found another fault than stuck_high in every frame on the relay " + fault.input + "; expected stuck_high, which switches it";
    }
    if (!known(controller, fault.input))
      return "found a fault on the input " + fault.input + ", which controller " + controller.name + " does not have";
  }
  return std::nullopt;
}

Message bad_times(const ChannelFault& fault) {
  const bool storm = fault.fault == Fault::storm;
  if (auto m = outside("a share of frames", fault.share, 0, 1, "")) return m;
  const bool placed = storm || fault.fault == Fault::runt || fault.fault == Fault::notch || fault.fault == Fault::cut;
  if (!placed) return std::nullopt;
  if (auto m = outside("the place of a runt, notch, cut or storm", fault.at_us, 1, 50000, "us")) return m;
  if (auto m = outside("the last place of a runt, notch, cut or storm", fault.at_to_us, 0, 50000, "us")) return m;
  if (fault.fault == Fault::cut) return std::nullopt;
  if (!storm) return outside("the width of a runt or notch", fault.width_us, 1, 50000, "us");
  if (auto m = outside("the width of a storm's levels", fault.width_us, kLeastStormUs, 50000, "us")) return m;
  return outside("the length of a storm", fault.for_us, fault.width_us, 50000, "us");
}

bool takes_pulse(const ChannelFault& fault) { return LineFault{.fault = fault.fault}.takes_pulse(); }

Message bad_faults(const Move& move) {
  for (std::size_t i = 0; i < move.faults.size(); ++i) {
    const ChannelFault& fault = move.faults[i];
    if (auto m = bad_times(fault)) return m;
    for (std::size_t j = 0; j < i; ++j)
      if (move.faults[j].input == fault.input && takes_pulse(fault) && takes_pulse(move.faults[j]))
        return "found two of drop, stuck_low, stuck_high and cut on the input " + fault.input + "; expected one";
  }
  return std::nullopt;
}

std::string us(std::int64_t ns) { return number(static_cast<double>(ns) / 1e3); }

const char* word(Fault fault) {
  if (fault == Fault::notch) return "notch";
  return fault == Fault::storm ? "storm" : "runt";
}

/// Worst cases of one position: all widths at their longest (pulses end latest) and at their shortest (notches fit least).
struct Position {
  const ReceiverFrame& frame;
  const ControllerDescription& controller;
  std::int64_t room_ns;  ///< the shortest frame

  Message bad(const Widths& low, const Widths& high, const std::vector<LineFaults>& lines) const {
    const std::int64_t jitter = us_to_ns(frame.jitter_us);
    std::vector<std::int64_t> shortest, longest;
    for (std::size_t i = 0; i < low.size(); ++i) {
      const std::string what = "a pulse on " + controller.inputs[i].name;
      if (auto m = outside(what, low[i], 1 + frame.jitter_us, frame.period_us, "us")) return m;
      if (auto m = outside(what, high[i], 1 + frame.jitter_us, frame.period_us, "us")) return m;
      shortest.push_back(us_to_ns(low[i]) - jitter);
      longest.push_back(us_to_ns(high[i]) + jitter);
      if (frame.order == ReceiverFrame::Order::overlapping && shortest.back() < us_to_ns(frame.overlap_us))
        return "found " + what + " of " + us(shortest.back()) + " us; expected it no shorter than the overlap, " +
               number(frame.overlap_us) + " us";
    }
    const auto starts = rises(frame, controller, longest);
    for (std::size_t i = 0; i < starts.size(); ++i) {
      const bool drifts = frame.drift_us.contains(controller.inputs[i].name);
      const std::int64_t rise = drifts ? room_ns - longest[i] - kGapNs : starts[i];
      if (rise <= 0 && drifts)
        return "found a pulse on " + controller.inputs[i].name + " of " + us(longest[i]) +
               " us, which leaves no room to drift; expected a longer frame";
      if (auto m = bad_line(i, rise, shortest[i], longest[i], lines[i])) return m;
    }
    return std::nullopt;
  }

  Message bad_line(std::size_t i, std::int64_t rise, std::int64_t shortest, std::int64_t longest, const LineFaults& line) const {
    const std::string& input = controller.inputs[i].name;
    const auto find = [&line](Fault kind) { return std::ranges::find(line, kind, &LineFault::fault); };
    const auto cut = find(Fault::cut);
    const bool stuck_high = find(Fault::stuck_high) != line.end(), is_cut = cut != line.end();
    const std::int64_t end = stuck_high ? rise + kLeastNs + kGapNs : rise + longest + kLeastNs;
    if (end > room_ns) return "found a pulse on " + input + " that ends " + late(end);
    if (is_cut && cut->at_to_ns + kLeastNs > shortest)
      return "found a cut on " + input + " at " + us(cut->at_to_ns) + " us after its rise; expected it inside the pulse";

    const bool pulse = std::ranges::none_of(line, [](const LineFault& f) { return f.takes_pulse() && f.always(); });
    std::int64_t gap_from = pulse ? longest + kLeastNs : kLeastNs;
    std::int64_t pulse_from = kLeastNs;
    LineFaults extras;
    std::ranges::copy_if(line, std::back_inserter(extras), &LineFault::adds_edges);
    std::ranges::sort(extras, {}, &LineFault::at_ns);
    for (const LineFault& extra : extras) {
      const std::string found = std::string("found a ") + word(extra.fault) + " on " + input;
      const bool notch = extra.fault == Fault::notch;
      const std::int64_t extra_end = extra.at_to_ns + extra.length_ns() + kLeastNs;
      std::int64_t& from = notch ? pulse_from : gap_from;
      if (stuck_high) return found + ", whose line is stuck high; expected one or the other";
      if (is_cut) return found + ", whose pulse is cut; expected one or the other";
      if (notch && !pulse) return found + ", which has no pulse; expected one or the other";
      if (extra.at_ns < from || (notch && extra_end > shortest))
        return found + " at " + us(extra.at_ns) + " us after its rise; expected it " +
               (notch ? "inside the pulse" : "in the gap after the pulse") + ", clear of any other";
      if (rise + extra_end > room_ns) return found + " that ends " + late(rise + extra_end);
      from = extra_end;
    }
    return std::nullopt;
  }

  std::string late(std::int64_t end_ns) const {
    return us(end_ns) + " us after the frame's start; expected it inside the shortest frame, " + us(room_ns) + " us";
  }
};

Message bad_widths(const ResolvedMove& move, const Position& position) {
  switch (move.kind) {
    case Move::Kind::points:
      for (const Widths& point : move.points)
        if (auto m = position.bad(point, point, move.lines)) return m;
      return std::nullopt;
    case Move::Kind::ramp:
      if (auto m = position.bad(move.to, move.to, move.lines)) return m;
      return position.bad(move.from, move.from, move.lines);
    case Move::Kind::sine: {
      Widths low = move.from, high = move.from;
      for (std::size_t i = 0; i < low.size(); ++i) {
        low[i] -= std::abs(move.amplitude[i]);
        high[i] += std::abs(move.amplitude[i]);
      }
      return position.bad(low, high, move.lines);
    }
    default:
      return position.bad(move.from, move.from, move.lines);
  }
}

const ReceiverFrame& frame_of(const Move& move, const StickScript& script) { return move.frame ? *move.frame : script.frame; }

Message bad_size(const StickScript& script) {
  double total_ms = 0;
  std::size_t points = 0;
  for (const Move& move : script.moves) {
    total_ms += static_cast<double>(length_ns(move)) / 1e6;
    points += move.points.size();
  }
  if (total_ms > kMaxLengthMs) return "found " + number(total_ms) + " ms in all; expected at most 6000000";
  if (points > kMaxPoints) return "found " + std::to_string(points) + " points in all; expected at most 20000";
  return std::nullopt;
}

Message too_many_edges(const std::vector<ResolvedMove>& moves) {
  double edges = 0;
  for (const ResolvedMove& move : moves) {
    auto highs = static_cast<std::int64_t>(move.lines.size());
    for (const LineFaults& line : move.lines)
      for (const LineFault& fault : line) highs += fault.count();
    const double frames = static_cast<double>(move.length_ns) / static_cast<double>(shortest_ns(move.frame)) + 1;
    edges += frames * 2 * static_cast<double>(highs);
  }
  if (edges > kMaxEdges) return "found a script of " + number(edges) + " edges, too many to hold; expected a shorter one";
  return std::nullopt;
}

}  // namespace

std::optional<Trouble> first_trouble(const StickScript& script, const ControllerDescription& controller) {
  if (auto m = bad_frame(script.frame, controller)) return Trouble{-1, *m};
  if (script.moves.empty()) return Trouble{-1, "found no moves; expected at least one"};
  for (std::size_t i = 0; i < script.moves.size(); ++i) {
    const Move& move = script.moves[i];
    const ReceiverFrame& frame = frame_of(move, script);
    const int index = static_cast<int>(i);
    if (auto m = bad_frame(frame, controller)) return Trouble{index, *m};
    if (auto m = bad_length(move, frame)) return Trouble{index, *m};
    if (auto m = bad_names(move, controller)) return Trouble{index, *m};
    if (auto m = bad_faults(move)) return Trouble{index, *m};
  }
  if (auto m = bad_size(script)) return Trouble{-1, *m};
  const auto moves = resolve(script, controller);
  if (auto m = too_many_edges(moves)) return Trouble{-1, *m};
  for (std::size_t i = 0; i < moves.size(); ++i) {
    const Position position{moves[i].frame, controller, shortest_ns(moves[i].frame)};
    if (auto m = bad_widths(moves[i], position)) return Trouble{static_cast<int>(i), *m};
  }
  return std::nullopt;
}

}  // namespace midstick::script
