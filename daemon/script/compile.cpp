// Plays a stick script frame by frame into edges. Sticks are sampled at each frame's start, as a receiver does.
#include <algorithm>
#include <limits>
#include <optional>
#include <string>
#include <tuple>
#include <utility>
#include <vector>

#include "daemon/script/draw.hpp"
#include "daemon/script/feasible.hpp"
#include "daemon/script/resolve.hpp"
#include "daemon/script/timeline.hpp"

namespace midstick::script {
namespace {

/// What one line does in one frame.
struct LineNow {
  struct Extra {
    std::int64_t at_ns, width_ns;  ///< after the pulse's rise
    bool level;                    ///< true: a high in the gap; false: a low in the pulse
  };
  bool pulse{true};
  bool stuck_high{false};
  std::optional<std::int64_t> cut_ns;  ///< the pulse ends so long after its rise
  std::vector<Extra> extras;
};

class Player {
 public:
  Player(const StickScript& script, const ControllerDescription& controller, std::uint64_t seed)
      : script_(script),
        controller_(controller),
        moves_(resolve(script, controller)),
        seed_(mixed(script.seed, seed)),
        jitter_(mixed(seed_, 1)),
        dither_(mixed(seed_, 2)),
        stuck_(controller.inputs.size(), false),
        cut_(controller.inputs.size(), false),
        drifted_(controller.inputs.size(), 0) {}

  Timeline play() {
    std::int64_t frame_at = 0;
    for (;;) {
      while (move_ + 1 < moves_.size() && over(frame_at)) enter(move_ + 1, frame_at);
      if (over(frame_at)) break;
      put_mark(frame_at);
      put_frame(frame_at);
      frame_at += us_to_ns(now().frame.period_us) + drawn(dither_, now().frame.dither_us);
      ++frame_in_move_;
    }
    put_actions();
    put_relays();
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

  const ResolvedMove& now() const { return moves_[move_]; }

  static std::int64_t end_of(const ResolvedMove& move) { return move.start_ns + move.length_ns; }

  static bool same(const ReceiverFrame& a, const ReceiverFrame& b) {
    const auto numbers = [](const ReceiverFrame& f) { return std::tuple(f.period_us, f.jitter_us, f.dither_us, f.order, f.overlap_us); };
    return numbers(a) == numbers(b) && a.phase_us == b.phase_us && a.drift_us == b.drift_us;
  }

  /// Dithered frames wander about the whole number of them that a move was given: one that begins a little before the move's end is the
  /// next move's, or every other move would be a frame short.
  bool over(std::int64_t frame_at) const { return frame_at + early() >= end_of(now()); }

  std::int64_t early() const { return now().frame.dither_us > 0 ? us_to_ns(now().frame.period_us) / 4 : 0; }

  /// Where in the move a frame's sticks are taken. Points change like moves.
  std::int64_t into_move(std::int64_t frame_at) const {
    return frame_at - now().start_ns + (script_.moves[move_].kind == Move::Kind::points ? early() : 0);
  }

  /// Where the receiver's frame changes, the move begins when the frame before it is over, and all after it come as much later: else a
  /// short move could pass unseen inside a long frame. So it does where frames are dithered, lest they wander off over many moves.
  void enter(std::size_t move, std::int64_t frame_at) {
    if (now().frame.dither_us > 0 || !same(moves_[move].frame, now().frame)) {
      const std::int64_t wait = frame_at - moves_[move].start_ns;
      for (std::size_t i = move; i < moves_.size(); ++i) moves_[i].start_ns += wait;
    }
    move_ = move;
    frame_in_move_ = 0;
    cut_.assign(cut_.size(), false);
  }

  /// At the move's own start, wherever in a frame that falls, or a drawn time later.
  void put_actions() {
    for (std::size_t i = 0; i < moves_.size(); ++i) {
      Draw late(mixed(mixed(seed_, 4), i));
      const std::int64_t at = moves_[i].start_ns + late.within(0, ms_to_ns(script_.moves[i].action_within_ms));
      for (const ActionKind kind : script_.moves[i].actions) out_.actions.push_back({{at}, kind});
    }
  }

  /// At the moves' own starts and ends; on through moves that both switch it.
  void put_relays() {
    for (std::size_t i = 0; i < controller_.relays.size(); ++i) {
      bool on = false;
      const std::uint8_t line = controller_.relays[i].line_no;
      for (const ResolvedMove& move : moves_)
        if (std::exchange(on, move.relays[i]) != move.relays[i]) out_.edges.push_back({{move.start_ns}, line, on});
      if (on) out_.edges.push_back({{moves_.back().start_ns + moves_.back().length_ns}, line, false});
    }
  }

  /// At the start of the first frame that carries the move, or its next point.
  void put_mark(std::int64_t frame_at) {
    const std::size_t point = now().point(into_move(frame_at));
    if (std::exchange(marked_, {move_, point}) == std::pair{move_, point} || script_.moves[move_].mark.empty()) return;
    PlannedMark mark{{frame_at}, script_.moves[move_].mark, now().at(into_move(frame_at))};
    for (std::size_t i = 0; i < now().lines.size(); ++i)
      for (const LineFault& fault : now().lines[i])
        if (fault.takes_pulse() && fault.always()) mark.values[i] = std::numeric_limits<double>::quiet_NaN();
    out_.marks.push_back(std::move(mark));
  }

  void put_frame(std::int64_t frame_at) {
    std::vector<std::int64_t> widths;
    // Jitter is drawn for pulses that a fault takes away as well, so that a fault changes nothing but itself.
    for (const double us : now().at(into_move(frame_at))) widths.push_back(us_to_ns(us) + drawn(jitter_, now().frame.jitter_us));
    auto starts = rises(now().frame, controller_, widths);
    for (std::size_t i = 0; i < widths.size(); ++i) drift(i, starts[i], widths[i]);
    for (std::size_t i = 0; i < widths.size(); ++i) put_line(i, line_now(i), frame_at, frame_at + starts[i], widths[i]);
  }

  /// Moves the rise of a drifting input on, round and round over the places where its pulse and a gap fit in the frame.
  void drift(std::size_t i, std::int64_t& rise, std::int64_t width) {
    const auto by = now().frame.drift_us.find(controller_.inputs[i].name);
    if (by == now().frame.drift_us.end()) {
      drifted_[i] = 0;
      return;
    }
    const std::int64_t places = shortest_ns(now().frame) - width - kGapNs;
    const std::int64_t base = std::exchange(rise, ((rise + drifted_[i]) % places + places) % places);
    drifted_[i] = rise - base + us_to_ns(by->second);
  }

  LineNow line_now(std::size_t i) {
    LineNow line;
    for (const LineFault& fault : now().lines[i]) {
      if (fault.fault == Fault::cut && cut_[i]) line.pulse = false;
      if (!happens(fault) || (fault.fault == Fault::cut && cut_[i])) continue;
      const std::int64_t at = fault.at_ns + drawn_up_to(fault, 1, fault.at_to_ns - fault.at_ns);
      if (fault.fault == Fault::cut) {
        cut_[i] = true;
        line.cut_ns = at;
      } else if (fault.fault == Fault::stuck_high) {
        line.stuck_high = true;
      } else if (!fault.adds_edges()) {
        line.pulse = false;
      } else {
        for (std::int64_t n = 0; n < fault.count(); ++n)
          line.extras.push_back({at + 2 * n * fault.width_ns, fault.width_ns, fault.fault != Fault::notch});
      }
    }
    return line;
  }

  bool happens(const LineFault& fault) const {
    constexpr std::int64_t whole = 1'000'000'000;
    return fault.always() || static_cast<double>(drawn_up_to(fault, 0, whole - 1)) < fault.share * static_cast<double>(whole);
  }

  /// Uniform in 0..high. Hashed from fault and frame instead of drawn one after another: a fault's draws hang on no other fault.
  std::int64_t drawn_up_to(const LineFault& fault, std::uint64_t which, std::int64_t high) const {
    const std::uint64_t word = mixed(mixed(mixed(mixed(seed_, 3), move_), fault.key), 2 * frame_in_move_ + which);
    return static_cast<std::int64_t>(word % (static_cast<std::uint64_t>(high) + 1));
  }

  void put_line(std::size_t i, const LineNow& line, std::int64_t frame_at, std::int64_t rise, std::int64_t width) {
    if (line.stuck_high) {
      if (!stuck_[i]) put(i, rise, true);
      stuck_[i] = true;
      return;
    }
    release(i, frame_at);
    if (line.pulse) put_pulse(i, rise, line.cut_ns.value_or(width), true);
    for (const auto& extra : line.extras)
      if (extra.level || line.pulse) put_pulse(i, rise + extra.at_ns, extra.width_ns, extra.level);
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
  std::uint64_t seed_;
  Draw jitter_, dither_;
  std::size_t move_{0};
  std::uint64_t frame_in_move_{0};
  std::vector<bool> stuck_, cut_;      ///< by input: the line is high since a stuck rise; the pulse was cut in this move
  std::vector<std::int64_t> drifted_;  ///< by input: how far its rise has moved on, ns
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
