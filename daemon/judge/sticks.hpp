// Builder of a check's own stick script: two sticks in percent of the mixer spec's travel, everything else from the plan.
//
// Every script begins with the same preamble, so that checks run in any order within one powered session: sticks at neutral for the
// arming time of the spec and a margin, during which a link lost between two checks is found again. Plain values; cannot fail.
#pragma once

#include <string>

#include "daemon/script/draw.hpp"
#include "daemon/script/plan.hpp"

namespace midstick::judge {

/// Neutral is held this much longer than the spec's arming time, ms.
inline constexpr double kArmMarginMs = 300;

/// Rests are rounded up to whole receiver frames, so that a position is never cut short.
double whole_frames_ms(const script::Plan& plan, double ms);

class Sticks {
 public:
  Sticks(const script::Plan& plan, const std::string& name, std::uint64_t seed);

  /// Sticks at neutral until the controller must have armed.
  Sticks& arm();
  /// Hold both sticks, percent of travel. The returned move may be given faults and actions.
  script::Move& hold(double throttle, double steering, double ms, std::string mark = "");
  /// Hold both sticks, us.
  script::Move& hold_us(double throttle, double steering, double ms, std::string mark = "");
  /// Time that a slewed machine needs from the sticks of the last move to these, ms; nothing to do with its latency.
  double slewing_ms(double throttle, double steering) const;
  /// No pulses for this long.
  script::Move& silent(double ms, std::string mark = "");
  /// The plan's own script after the preamble: its frame, seed and moves.
  Sticks& play(const script::StickScript& own);

  script::ReceiverFrame& frame() { return script_.frame; }
  script::StickScript take() { return std::move(script_); }

 private:
  const script::Plan* plan_;
  script::StickScript script_;
};

/// Fault of one input all along a move.
script::ChannelFault fault_of(const mixer::InputSpec& in, script::Fault fault);

/// Throttle positions between "drive_low_percent" and "drive_high_percent", drawn by the seed in whole percent.
class DrivePoints {
 public:
  DrivePoints(const script::PlannedCheck& check, std::uint64_t seed);
  double next();

 private:
  script::Draw draw_;
  std::int64_t low_, high_;
};

/// Parameter of the check; the loader has filled every default, so a missing one is our own bug and throws.
double param(const script::PlannedCheck& check, const char* name);
/// Parameter that stands for "as the spec says" when it is not given.
double param_or(const script::PlannedCheck& check, const char* name, double otherwise);
/// Whole number parameter.
int count_param(const script::PlannedCheck& check, const char* name);

}  // namespace midstick::judge
