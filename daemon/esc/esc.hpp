// An ESC, fed with the pulses that a controller really sent: what would it have done, when, and why?
//
// A model for judging, not a controller of motors: it answers with states, not with currents. Time is ns of true time from any origin and
// must not run backwards (earlier instants count as now). A pulse acts when it falls. Plain value, no threads; cannot fail.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "daemon/core/time.hpp"
#include "daemon/esc/spec.hpp"

namespace midstick::esc {

struct TrueClock {};
using TrueTime = TimePoint<TrueClock>;  ///< ns
using TrueSpan = TimeSpan<TrueClock>;   ///< ns

enum class State {
  off,         ///< no power
  waiting,     ///< powered, no neutral yet
  arming,      ///< counting neutral pulses
  neutral,     ///< armed, motor off
  forward,     ///< drives with the long pulses
  brake,       ///< brakes
  reverse,     ///< drives with the short pulses
  dead_time,   ///< armed, motor off although driving is asked: it waits before it turns round
  lost,        ///< motor off: no signal
  learning,    ///< takes the pulses for its new ends; ends with the power
  locked_out,  ///< gave up; ends with the power
};
const char* name(State s);
constexpr bool drives(State s) { return s == State::forward || s == State::reverse; }
/// Past arming: neutral, driving, braking, waiting to turn round, or with the signal just lost.
bool armed(State s);

struct Pulse {
  TrueTime rise;
  double width_us{0};
};

struct Stretch {
  State state{State::off};
  TrueTime begin, end;
  std::string reason;  ///< "10 neutral pulses in 300 ms"
};

class Esc {
 public:
  explicit Esc(Spec spec) : spec_(std::move(spec)) {}

  void power_on(TrueTime at);
  void power_off(TrueTime at);
  void pulse(const Pulse& pulse);
  /// Let time pass without a pulse: losing the signal, disarming, locking out.
  void pass(TrueTime until);

  State state() const { return state_; }
  double speed() const { return speed_; }  ///< -1..1 of full speed, as the standstill model has it
  /// States so far without gaps, the last one ending at `until` (not before the last instant told).
  std::vector<Stretch> states(TrueTime until);

 private:
  void enter(State state, TrueTime at, std::string reason);
  void roll(TrueTime to);
  void unarmed(TrueTime at, double off_us);
  bool learns(TrueTime at, double off_us);
  void arm(TrueTime at);
  void restart_arming(TrueTime at, std::string reason);
  void drive(TrueTime at, double off_us);
  void rest(TrueTime at);
  void forwards(TrueTime at, double off_us);
  void backwards(TrueTime at, double off_us);
  bool may_reverse(TrueTime at) const;
  void outside(TrueTime at, double read_us);
  /// The next instant at which something happens by itself; nothing while nothing can.
  std::optional<TrueTime> deadline() const;
  void expire(TrueTime at);

  Spec spec_;
  State state_{State::off};
  std::vector<Stretch> log_;
  TrueTime now_{}, on_{}, last_valid_{};
  double speed_{0}, drive_{0};         ///< -1..1
  std::optional<double> followed_us_;  ///< input behind the ESC's own slew
  // Unarmed.
  bool neutral_seen_{false}, armed_once_{false};  ///< since power-on
  std::optional<TrueTime> neutral_since_, high_since_;
  int neutral_count_{0}, high_count_{0};
  // Armed.
  bool latched_{false};       ///< lost until neutral comes
  bool reverse_free_{false};  ///< neutral has been visited since the last forward pulse
  std::optional<TrueTime> visit_since_;
  std::optional<TrueTime> last_forward_, last_reverse_;
};

/// One power-up: `pulses` between `on` and `off`, in order.
std::vector<Stretch> run(const Spec& spec, const std::vector<Pulse>& pulses, TrueTime on, TrueTime off);

}  // namespace midstick::esc
