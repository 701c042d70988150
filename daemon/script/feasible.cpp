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
  if (auto m = bad_name(controller, frame.phase_us)) return m;
  for (const auto& [input, phase] : frame.phase_us)
    if (auto m = outside("a phase of " + input, phase, 0, frame.period_us, "us")) return m;
  return std::nullopt;
}

/// Lengths first: everything after relies on them being finite.
Message bad_length(const Move& move, const ReceiverFrame& frame) {
  const double least = (frame.period_us + frame.dither_us) / 1e3;
  if (move.kind != Move::Kind::points) {
    if (auto m = outside("a move", move.for_ms, least, kMaxLengthMs, "ms")) return *m + " (at least one frame)";
    if (move.kind == Move::Kind::sine) return outside("a sine period", move.period_ms, 0.1, kMaxLengthMs, "ms");
    return std::nullopt;
  }
  if (move.points.empty()) return "found a move without points; expected at least one";
  if (move.points.size() > kMaxPoints) return "found " + std::to_string(move.points.size()) + " points; expected at most 20000";
  if (auto m = outside("a rest at each point", move.point_ms, least, kMaxLengthMs, "ms")) return *m + " (at least one frame)";
  return std::nullopt;
}

Message bad_names(const Move& move, const ControllerDescription& controller) {
  for (const auto* named : {&move.from, &move.to, &move.amplitude_us})
    if (auto m = bad_name(controller, *named)) return m;
  for (const auto& point : move.points)
    if (auto m = bad_name(controller, point)) return m;
  for (const ChannelFault& fault : move.faults)
    if (!known(controller, fault.input))
      return "found a fault on the input " + fault.input + ", which controller " + controller.name + " does not have";
  return std::nullopt;
}

Message bad_faults(const Move& move) {
  for (std::size_t i = 0; i < move.faults.size(); ++i) {
    const ChannelFault& fault = move.faults[i];
    const bool extra = fault.fault == Fault::runt || fault.fault == Fault::notch;
    if (extra) {
      if (auto m = outside("the place of a runt or notch", fault.at_us, 1, 50000, "us")) return m;
      if (auto m = outside("the width of a runt or notch", fault.width_us, 1, 50000, "us")) return m;
    }
    for (std::size_t j = 0; j < i; ++j) {
      if (move.faults[j].input != fault.input) continue;
      const bool other_extra = move.faults[j].fault == Fault::runt || move.faults[j].fault == Fault::notch;
      if (!extra && !other_extra) return "found two of drop, stuck_low and stuck_high on the input " + fault.input + "; expected one";
    }
  }
  return std::nullopt;
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
    }
    const auto starts = rises(frame, controller, longest);
    for (std::size_t i = 0; i < starts.size(); ++i)
      if (auto m = bad_line(i, starts[i], shortest[i], longest[i], lines[i])) return m;
    return std::nullopt;
  }

  Message bad_line(std::size_t i, std::int64_t rise, std::int64_t shortest, std::int64_t longest, const LineFaults& line) const {
    const std::string& input = controller.inputs[i].name;
    const std::string frame_text =
        " us after the frame's start; expected it inside the shortest frame, " + number(static_cast<double>(room_ns) / 1e3) + " us";
    const std::int64_t end = line.stuck_high ? rise + kLeastNs + kGapNs : rise + longest + kLeastNs;
    if (end > room_ns) return "found a pulse on " + input + " that ends " + number(static_cast<double>(end) / 1e3) + frame_text;

    std::int64_t gap_from = line.pulse ? longest + kLeastNs : kLeastNs;
    std::int64_t pulse_from = kLeastNs;
    auto extras = line.extras;
    std::ranges::sort(extras, {}, &LineFaults::Extra::at_ns);
    for (const auto& extra : extras) {
      const std::int64_t extra_end = extra.at_ns + extra.width_ns + kLeastNs;
      std::int64_t& from = extra.level ? gap_from : pulse_from;
      if (line.stuck_high) return "found a runt or notch on " + input + ", whose line is stuck high; expected one or the other";
      if (!extra.level && !line.pulse) return "found a notch on " + input + ", which has no pulse; expected one or the other";
      if (extra.at_ns < from || (!extra.level && extra_end > shortest))
        return std::string("found a ") + (extra.level ? "runt" : "notch") + " on " + input + " at " +
               number(static_cast<double>(extra.at_ns) / 1e3) + " us after its rise; expected it " +
               (extra.level ? "in the gap after the pulse" : "inside the pulse") + ", clear of any other";
      if (rise + extra_end > room_ns)
        return "found a runt on " + input + " that ends " + number(static_cast<double>(rise + extra_end) / 1e3) + frame_text;
      from = extra_end;
    }
    return std::nullopt;
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

Message bad_size(const StickScript& script, std::size_t inputs) {
  double total_ms = 0;
  std::size_t points = 0, extras = 0;
  for (const Move& move : script.moves) {
    total_ms += static_cast<double>(length_ns(move)) / 1e6;
    points += move.points.size();
    extras = std::max(extras, move.faults.size());
  }
  if (total_ms > kMaxLengthMs) return "found " + number(total_ms) + " ms in all; expected at most 6000000";
  if (points > kMaxPoints) return "found " + std::to_string(points) + " points in all; expected at most 20000";
  const double frames = total_ms * 1e3 / (script.frame.period_us - script.frame.dither_us) + 1;
  if (frames * 2 * static_cast<double>(inputs + extras) > kMaxEdges)
    return "found a script of " + number(frames) + " frames, too many to hold; expected a shorter one";
  return std::nullopt;
}

}  // namespace

std::optional<Trouble> first_trouble(const StickScript& script, const ControllerDescription& controller) {
  if (auto m = bad_frame(script.frame, controller)) return Trouble{-1, *m};
  if (script.moves.empty()) return Trouble{-1, "found no moves; expected at least one"};
  for (std::size_t i = 0; i < script.moves.size(); ++i) {
    const Move& move = script.moves[i];
    const int index = static_cast<int>(i);
    if (auto m = bad_length(move, script.frame)) return Trouble{index, *m};
    if (auto m = bad_names(move, controller)) return Trouble{index, *m};
    if (auto m = bad_faults(move)) return Trouble{index, *m};
  }
  if (auto m = bad_size(script, controller.inputs.size())) return Trouble{-1, *m};

  const Position position{script.frame, controller, us_to_ns(script.frame.period_us) - us_to_ns(script.frame.dither_us)};
  const auto moves = resolve(script, controller);
  for (std::size_t i = 0; i < moves.size(); ++i)
    if (auto m = bad_widths(moves[i], position)) return Trouble{static_cast<int>(i), *m};
  return std::nullopt;
}

}  // namespace midstick::script
