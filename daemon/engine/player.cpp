#include "daemon/engine/player.hpp"

#include <algorithm>
#include <utility>

#include "daemon/capture/pin_change.hpp"
#include "daemon/engine/controller_port.hpp"
#include "daemon/engine/recorder.hpp"

namespace midstick::engine {
namespace {

constexpr ScriptSpan kLead = script_ms(250);        ///< between asking for the first edge and the edge: hides every delay of the host
constexpr ScriptSpan kActionLead = script_ms(150);  ///< power and reset are asked for this long ahead
constexpr ScriptSpan kTail = script_ms(120);        ///< watched after the last edge, so that late answers are in
constexpr HostSpan kClockEvery = host_ms(100);
constexpr HostSpan kLongestWait = host_ms(20);    ///< so that Ctrl-C is seen soon
constexpr HostSpan kEndPatience = host_ms(2000);  ///< the board must have reported past the end by then
constexpr std::uint16_t kResetHoldMs = 20;

class Player {
 public:
  Player(Session& session, const Programme& programme, const script::ControllerDescription& controller,
         const std::function<void(const PlayProgress&)>& on_progress)
      : session_(session), programme_(programme), controller_(controller), on_progress_(on_progress) {}

  PlayOutcome run() {
    map_ = session_.clock_map();
    suspicions_ = session_.clock().suspicions();
    start();
    auto cut_short = loop();
    session_.make_safe();
    if (!cut_short && session_.clock().state(session_.now()) != clock::ClockState::locked) cut_short = clock_trouble();
    return finish(std::move(cut_short));
  }

 private:
  BoardTime board_time(ScriptTime t) const { return origin_ + map_.ticks(t - ScriptTime{}); }

  void start() {
    const HostTime now = session_.now();
    std::uint8_t lines = 0;
    for (const auto& pin : controller_.outputs) lines = static_cast<std::uint8_t>(lines | (1u << pin.line_no));
    session_.link().start(kRefreshMs, lines, now);
    const BoardTime board_now = session_.link().board_now(now).value_or(map_.to_board(now));
    recorder_.capture().begin = board_now;
    origin_ = board_now + map_.ticks(kLead);
    stimulus_.reserve(programme_.timeline.edges.size());
    for (const auto& e : programme_.timeline.edges) stimulus_.push_back({board_time(e.at), e.line, e.level});
    session_.link().stimulate(stimulus_, now);
  }

  static Error clock_trouble() {
    return {ErrorKind::bench_unfit,
            "the board's clock could not be followed to the end of the run; its rate changed, or stamps were wrong"};
  }

  /// Plays to the end. Returns why it was cut short, or nothing.
  std::optional<Error> loop() {
    const BoardTime end = board_time(ScriptTime{} + programme_.timeline.length) + map_.ticks(kTail);
    const HostTime give_up = session_.now() + HostSpan{(programme_.timeline.length + kLead + kTail).count} + kEndPatience;
    for (;;) {
      if (session_.stop_requested()) return Error{ErrorKind::stopped, "stopped by the operator; pulses and controller power are off"};
      const HostTime now = session_.now();
      session_.sample_clock(kClockEvery);
      ask_for_action(now);
      if (auto s = session_.step(now + kLongestWait, [this](const link::LinkEvent& e) { recorder_.take(e); }); !s) return s.error();
      if (recorder_.trouble()) return recorder_.trouble();
      if (port_trouble_) return port_trouble_;
      if (session_.clock().suspicions() != suspicions_) return clock_trouble();  // no map holds before and after
      report_progress();
      const auto& status = recorder_.status();
      if (status && status->now > end) return check_all_played(*status);
      if (session_.now() > give_up)
        return Error{ErrorKind::bench_unfit, "the bench board stopped reporting its time; the end of the run was never seen"};
    }
  }

  /// The board counts the edges it made; fewer than asked for means the stimulus was not what the plan says.
  std::optional<Error> check_all_played(const link::BoardStatus& status) const {
    if (status.stimulus_done == stimulus_.size()) return std::nullopt;
    return Error{ErrorKind::bench_unfit,
                 "the bench board made " + std::to_string(status.stimulus_done) + " stimulus edges of " + std::to_string(stimulus_.size())};
  }

  /// One action at a time: the board holds one, and the order is part of the script.
  void ask_for_action(HostTime now) {
    const auto& actions = programme_.timeline.actions;
    if (next_action_ >= actions.size() || recorder_.actions_done() + port_actions_ < static_cast<int>(next_action_)) return;
    const auto& action = actions[next_action_];
    const BoardTime at = board_time(action.at);
    const bool port = action.kind == script::ActionKind::port_open || action.kind == script::ActionKind::port_close;
    const auto board_now = session_.link().board_now(now);
    if (!board_now || *board_now < (port ? at : at - map_.ticks(kActionLead))) return;
    auto& link = session_.link();
    switch (action.kind) {
      case script::ActionKind::power_on:
        link.power(true, at, now);
        break;
      case script::ActionKind::power_off:
        link.power(false, at, now);
        break;
      case script::ActionKind::reset:
        link.reset_controller(kResetHoldMs, at, now);
        break;
      case script::ActionKind::port_open:
        if (auto s = port_.open(controller_.serial); !s) port_trouble_ = s.error();
        break;
      case script::ActionKind::port_close:
        port_.close();
        break;
    }
    port_actions_ += port;
    ++next_action_;
  }

  void report_progress() {
    if (!on_progress_) return;
    const auto& status = recorder_.status();
    if (!status) return;
    const ScriptSpan done{
        std::clamp<std::int64_t>(static_cast<std::int64_t>(map_.us(status->now - origin_) * 1e3), 0, programme_.timeline.length.count)};
    if (done.count == reported_.count) return;
    reported_ = done;
    const auto& segments = programme_.segments;
    const auto at = std::find_if(segments.begin(), segments.end(),
                                 [&](const ProgrammeSegment& s) { return s.begin <= ScriptTime{} + done && ScriptTime{} + done < s.end; });
    const Glimpse glimpse{origin_, status->now, stimulus_, recorder_.capture().response, map_};
    on_progress_({static_cast<std::size_t>(at - segments.begin()), done, programme_.timeline.length, glimpse});
  }

  PlayOutcome finish(std::optional<Error> cut_short) {
    auto& capture = recorder_.capture();
    const auto& status = recorder_.status();
    capture.clock = session_.clock().whole_map();
    capture.clock_facts = session_.clock_facts();
    capture.identity = session_.identity();
    capture.identity.controller = controller_.name;
    capture.end = status ? status->now : capture.begin;
    for (const auto& e : capture.events) capture.end = std::max(capture.end, e.at);
    capture.complete = !cut_short;
    if (cut_short) capture.incomplete_reason = cut_short->message;
    for (const auto& e : stimulus_)
      if (capture.complete || e.at <= capture.end) capture.stimulus.push_back({e.at, e.line, e.level, 1, false});
    std::stable_sort(capture.response.begin(), capture.response.end(), [](const auto& a, const auto& b) { return a.at < b.at; });
    capture::bound_pin_changes(capture.stimulus, capture.response, session_.link().hello());
    add_segments(capture);
    return {std::move(capture), std::move(cut_short)};
  }

  /// Segments the run got through; a segment that was begun but not finished keeps its planned end, which lies past capture.end.
  void add_segments(capture::Capture& capture) const {
    auto mark = programme_.timeline.marks.begin();
    const auto last = programme_.timeline.marks.end();
    for (const auto& s : programme_.segments) {
      capture::Segment segment{s.check, s.repeat, board_time(s.begin), board_time(s.end), {}};
      if (segment.begin > capture.end) break;
      for (; mark != last && mark->at < s.end; ++mark)
        if (mark->at >= s.begin) segment.marks.push_back({board_time(mark->at), mark->label, mark->values});
      capture.segments.push_back(std::move(segment));
    }
  }

  Session& session_;
  const Programme& programme_;
  const script::ControllerDescription& controller_;
  const std::function<void(const PlayProgress&)>& on_progress_;
  clock::ClockMap map_;
  int suspicions_{0};
  BoardTime origin_{};
  std::vector<link::StimulusEdge> stimulus_;
  Recorder recorder_;
  ControllerPort port_;
  std::optional<Error> port_trouble_;
  int port_actions_{0};  ///< done by this computer, not by the board
  std::size_t next_action_{0};
  ScriptSpan reported_{-1};
};

}  // namespace

PlayOutcome play(Session& session, const Programme& programme, const script::ControllerDescription& controller,
                 const std::function<void(const PlayProgress&)>& on_progress) {
  return Player(session, programme, controller, on_progress).run();
}

}  // namespace midstick::engine
