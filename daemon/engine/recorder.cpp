#include "daemon/engine/recorder.hpp"

#include <cstdlib>
#include <utility>
#include <variant>

#include "protocol/messages.hpp"

namespace midstick::engine {
namespace {

using capture::Event;
using capture::EventKind;
using protocol::EventCode;

/// A change of the supply smaller than this is not worth an event, mV.
constexpr int kSupplyStepMv = 250;

const char* event_text(EventCode code) {
  switch (code) {
#define MIDSTICK_CASE(number, name, meaning) \
  case EventCode::name:                      \
    return meaning;
    MIDSTICK_EVENTS(MIDSTICK_CASE)
#undef MIDSTICK_CASE
  }
  return "unknown event";
}

std::optional<EventKind> kept_as(EventCode code) {
  switch (code) {
    case EventCode::power_on:
      return EventKind::power_on;
    case EventCode::power_off:
      return EventKind::power_off;
    case EventCode::reset_asserted:
      return EventKind::reset_asserted;
    case EventCode::reset_released:
      return EventKind::reset_released;
    case EventCode::stop_loop_open:
      return EventKind::stop_loop_open;
    case EventCode::stop_loop_closed:
      return EventKind::stop_loop_closed;
    case EventCode::fault:
      return EventKind::board_fault;
    case EventCode::unseen_runt:
      return EventKind::unseen_runt;
    case EventCode::edges_dropped:
      return EventKind::edges_lost;
    default:
      return std::nullopt;
  }
}

}  // namespace

std::string fault_text(protocol::Fault fault) {
  switch (fault) {
    case protocol::Fault::none:
      return "none";
#define MIDSTICK_CASE(number, name, meaning) \
  case protocol::Fault::name:                \
    return std::string(meaning) + " (" #name ", reason " #number ")";
      MIDSTICK_FAULTS(MIDSTICK_CASE)
#undef MIDSTICK_CASE
  }
  return "reason " + std::to_string(static_cast<int>(fault)) + ", not known to this program";
}

void Recorder::take(const link::LinkEvent& event) {
  std::visit([this](const auto& e) { on(e); }, event);
}

void Recorder::unfit(std::string message) {
  if (!trouble_) trouble_ = Error{loop_open_ ? ErrorKind::stop_loop : ErrorKind::bench_unfit, std::move(message)};
}

/// A button lets go again at once, so once it was open in a run, that is what ended the run.
void Recorder::note_stop_loop(bool open) { loop_open_ = open || (loop_open_ && begun_); }

void Recorder::on(const link::EdgesArrived& arrived) {
  capture_.response.insert(capture_.response.end(), arrived.edges.begin(), arrived.edges.end());
}

void Recorder::on(const link::BoardEvent& event) {
  begun_ = begun_ || event.code == EventCode::started;
  const bool fault_is_loop = event.code == EventCode::fault && event.value == static_cast<std::uint16_t>(protocol::Fault::stop_loop_open);
  if (event.code == EventCode::stop_loop_open || fault_is_loop) note_stop_loop(true);
  const auto kind = kept_as(event.code);
  if (!kind) return;
  Event kept{event.at, *kind, event.value, event.at, event_text(event.code)};
  if (*kind == EventKind::board_fault) {
    kept.text = "board went safe: " + fault_text(static_cast<protocol::Fault>(event.value));
    unfit("the bench board went safe during the run (pulses and controller power are off): " +
          fault_text(static_cast<protocol::Fault>(event.value)));
  }
  if (*kind == EventKind::power_on || *kind == EventKind::power_off || *kind == EventKind::reset_released) ++actions_done_;
  capture_.events.push_back(std::move(kept));
}

void Recorder::on(const link::BoardStatus& status) {
  note_stop_loop(status.stop_loop_open || (begun_ && status.fault == protocol::Fault::stop_loop_open));
  // A board that went safe before says so every 100 ms, also while `start`, which clears it, is on its way.
  begun_ = begun_ || status.mode == protocol::BoardMode::started;
  if (!begun_) return;
  if (status.edges_dropped > dropped_noted_) {
    const int lost = status.edges_dropped - dropped_noted_;
    const BoardTime since = status_ ? status_->now : status.now;
    capture_.events.push_back(
        {status.now, EventKind::edges_lost, lost, since, std::to_string(lost) + " response edges lost inside the board"});
    dropped_noted_ = status.edges_dropped;
  }
  if (!supply_noted_ || std::abs(int{status.supply_mv} - int{*supply_noted_}) >= kSupplyStepMv) {
    capture_.events.push_back(
        {status.now, EventKind::supply, status.supply_mv, status.now, "controller supply " + std::to_string(status.supply_mv) + " mV"});
    supply_noted_ = status.supply_mv;
  }
  if (status.mode == protocol::BoardMode::faulted) unfit("the bench board is in its safe state: " + fault_text(status.fault));
  status_ = status;
}

void Recorder::on(const link::Refused& refused) {
  const char* why = "not known to this program";
  switch (refused.reason) {
#define MIDSTICK_CASE(number, name, meaning) \
  case protocol::Refusal::name:              \
    why = meaning;                           \
    break;
    MIDSTICK_REFUSALS(MIDSTICK_CASE)
#undef MIDSTICK_CASE
    default:
      break;
  }
  unfit("the bench board refused a command (" + refused.command + "): " + why);
}

void Recorder::on(const link::Lost& lost) {
  begun_ = true;  // its event may be what was lost; better an old fault taken for a new one than a new one missed
  const std::int64_t count = lost.edges > 0 ? lost.edges : lost.frames;
  const char* what = lost.edges > 0 ? " response edges" : " frames of the board";
  capture_.events.push_back({lost.until, EventKind::edges_lost, count, lost.since, std::to_string(count) + what + " lost on the wire"});
}

void Recorder::on(const link::Restarted& restarted) {
  capture_.events.push_back(
      {status_ ? status_->now : BoardTime{}, EventKind::board_restart, restarted.new_boot, {}, "the bench board restarted"});
  unfit("the bench board restarted during the run (boot " + std::to_string(restarted.old_boot) + " became boot " +
        std::to_string(restarted.new_boot) + "): check its supply and its reset line");
}

void Recorder::on(const link::Failed& failed) {
  if (!trouble_) trouble_ = failed.error;
}

}  // namespace midstick::engine
