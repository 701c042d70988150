// Collects what the link reports during a run into a Capture, and decides when the bench is no longer fit to go on.
//
// Single-threaded; owned by the Player. Board ticks. Nothing here fails: what goes wrong becomes an event in the capture and, where the run
// cannot go on, `trouble()`.
#pragma once

#include <optional>
#include <string>

#include "daemon/capture/capture.hpp"
#include "daemon/core/result.hpp"
#include "daemon/link/link_event.hpp"

namespace midstick::engine {

class Recorder {
 public:
  void take(const link::LinkEvent& event);

  /// Why the run cannot go on; nothing while it can.
  const std::optional<Error>& trouble() const { return trouble_; }
  const std::optional<link::BoardStatus>& status() const { return status_; }
  /// Power and reset events heard since the run began; the player waits for one before it asks for the next.
  int actions_done() const { return actions_done_; }
  /// Edges and events so far, moved out.
  capture::Capture& capture() { return capture_; }

 private:
  void on(const link::EdgesArrived& arrived);
  void on(const link::BoardEvent& event);
  void on(const link::BoardStatus& status);
  void on(const link::Refused& refused);
  void on(const link::Lost& lost);
  void on(const link::Restarted& restarted);
  void on(const link::Failed& failed);
  void on(const link::Greeted&) {}
  void on(const link::ClockSampled&) {}
  void unfit(std::string message);
  void note_stop_loop(bool open);

  capture::Capture capture_;
  bool begun_{false};      ///< the board has begun this run; what it says before is of an earlier one
  bool loop_open_{false};  ///< the stop loop is, or was in this run
  std::optional<Error> trouble_;
  std::optional<link::BoardStatus> status_;
  int actions_done_{0};
  std::optional<std::uint16_t> supply_noted_;
  std::uint16_t dropped_noted_{0};
};

/// What a fault reason means, for people.
std::string fault_text(protocol::Fault fault);

}  // namespace midstick::engine
