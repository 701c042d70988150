// Plays a stick script frame by frame into edges. Sticks are sampled at each frame's start, as a receiver does.
#include <algorithm>
#include <limits>
#include <string>

#include "daemon/script/draw.hpp"
#include "daemon/script/feasible.hpp"
#include "daemon/script/resolve.hpp"
#include "daemon/script/timeline.hpp"

namespace midstick::script {
namespace {

class Player {
 public:
  Player(const StickScript& script, const ControllerDescription& controller, std::uint64_t seed)
      : script_(script),
        controller_(controller),
        moves_(resolve(script, controller)),
        jitter_(mixed(mixed(script.seed, seed), 1)),
        dither_(mixed(mixed(script.seed, seed), 2)),
        stuck_(controller.inputs.size(), false) {}

  Timeline play() {
    put_actions();
    const std::int64_t end = moves_.back().start_ns + moves_.back().length_ns;
    std::int64_t frame_at = 0;
    for (std::size_t move = 0; frame_at < end;) {
      while (frame_at >= moves_[move].start_ns + moves_[move].length_ns) ++move;
      put_mark(move, frame_at);
      put_frame(moves_[move], frame_at);
      frame_at += us_to_ns(script_.frame.period_us) + drawn(dither_, script_.frame.dither_us);
    }
    for (std::size_t i = 0; i < stuck_.size(); ++i) release(i, frame_at);
    std::ranges::stable_sort(out_.edges, {}, [](const PlannedEdge& e) { return std::pair(e.at, e.line); });
    out_.length = {frame_at};
    return std::move(out_);
  }

 private:
  static std::int64_t drawn(Draw& draw, double half_us) {
    const std::int64_t half = us_to_ns(half_us);
    return draw.within(-half, half);
  }

  /// At the move's own start, wherever in a frame that falls.
  void put_actions() {
    for (std::size_t i = 0; i < moves_.size(); ++i)
      for (const ActionKind kind : script_.moves[i].actions) out_.actions.push_back({{moves_[i].start_ns}, kind});
  }

  /// At the start of the first frame that carries the move, or its next point.
  void put_mark(std::size_t move, std::int64_t frame_at) {
    const ResolvedMove& m = moves_[move];
    const std::size_t point = m.point(frame_at - m.start_ns);
    if (std::exchange(marked_, {move, point}) == std::pair{move, point} || script_.moves[move].mark.empty()) return;
    PlannedMark mark{{frame_at}, script_.moves[move].mark, m.at(frame_at - m.start_ns)};
    for (std::size_t i = 0; i < m.lines.size(); ++i)
      if (!m.lines[i].pulse || m.lines[i].stuck_high) mark.values[i] = std::numeric_limits<double>::quiet_NaN();
    out_.marks.push_back(std::move(mark));
  }

  void put_frame(const ResolvedMove& move, std::int64_t frame_at) {
    std::vector<std::int64_t> widths;
    // Jitter is drawn for pulses that a fault takes away as well, so that a fault changes nothing but itself.
    for (const double us : move.at(frame_at - move.start_ns)) widths.push_back(us_to_ns(us) + drawn(jitter_, script_.frame.jitter_us));
    const auto starts = rises(script_.frame, controller_, widths);
    for (std::size_t i = 0; i < widths.size(); ++i) put_line(i, move.lines[i], frame_at, frame_at + starts[i], widths[i]);
  }

  void put_line(std::size_t i, const LineFaults& line, std::int64_t frame_at, std::int64_t rise, std::int64_t width) {
    if (line.stuck_high) {
      if (!stuck_[i]) put(i, rise, true);
      stuck_[i] = true;
      return;
    }
    release(i, frame_at);
    if (line.pulse) put_pulse(i, rise, width, true);
    for (const auto& extra : line.extras) put_pulse(i, rise + extra.at_ns, extra.width_ns, extra.level);
  }

  /// A line that was stuck falls a gap before this frame, so that a pulse at the frame's very start still has its rise.
  void release(std::size_t i, std::int64_t frame_at) {
    if (stuck_[i]) put(i, frame_at - kGapNs, false);
    stuck_[i] = false;
  }

  void put_pulse(std::size_t i, std::int64_t at, std::int64_t width, bool level) {
    put(i, at, level);
    put(i, at + width, !level);
  }

  void put(std::size_t i, std::int64_t at, bool level) { out_.edges.push_back({{at}, controller_.inputs[i].line_no, level}); }

  const StickScript& script_;
  const ControllerDescription& controller_;
  std::vector<ResolvedMove> moves_;
  Draw jitter_, dither_;
  std::vector<bool> stuck_;
  std::pair<std::size_t, std::size_t> marked_{std::numeric_limits<std::size_t>::max(), 0};
  Timeline out_;
};

}  // namespace

Result<Timeline> compile(const StickScript& script, const ControllerDescription& controller, std::uint64_t seed) {
  if (const auto trouble = first_trouble(script, controller)) {
    const std::string place = trouble->move < 0 ? "" : ", move " + std::to_string(trouble->move + 1);
    return Error{ErrorKind::bad_file, "stick script \"" + script.name + "\"" + place + ": " + trouble->what};
  }
  return Player(script, controller, seed).play();
}

void append(Timeline& head, const Timeline& tail) {
  const ScriptSpan shift = head.length;
  for (PlannedEdge edge : tail.edges) head.edges.push_back({edge.at + shift, edge.line, edge.level});
  for (PlannedAction action : tail.actions) head.actions.push_back({action.at + shift, action.kind});
  for (const PlannedMark& mark : tail.marks) head.marks.push_back({mark.at + shift, mark.label, mark.values});
  head.length = head.length + tail.length;
}

}  // namespace midstick::script
