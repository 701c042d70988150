#include "daemon/esc/esc.hpp"

#include <algorithm>
#include <cmath>

namespace midstick::esc {
namespace {

TrueSpan ms(double value) { return {std::llround(value * 1e6)}; }
double in_ms(TrueSpan s) { return static_cast<double>(s.count) / 1e6; }
std::string whole(double value) { return std::to_string(std::llround(value)); }

}  // namespace

const char* name(State s) {
  switch (s) {
    case State::off:
      return "off";
    case State::waiting:
      return "waiting";
    case State::arming:
      return "arming";
    case State::neutral:
      return "neutral";
    case State::forward:
      return "forward";
    case State::brake:
      return "brake";
    case State::reverse:
      return "reverse";
    case State::dead_time:
      return "dead time";
    case State::lost:
      return "lost";
    case State::learning:
      return "learning";
    case State::locked_out:
      return "locked out";
  }
  return "";
}

bool armed(State s) {
  return s == State::neutral || s == State::forward || s == State::brake || s == State::reverse || s == State::dead_time ||
         s == State::lost;
}

void Esc::enter(State state, TrueTime at, std::string reason) {
  if (state == state_ && !log_.empty()) return;
  if (!log_.empty()) log_.back().end = at;
  state_ = state;
  log_.push_back({state, at, at, std::move(reason)});
}

/// First-order: speed goes for the drive, with the time constant of what the motor does.
void Esc::roll(TrueTime to) {
  const double dt = in_ms(to - now_);
  if (dt <= 0) return;
  const double tau = drives(state_) ? spec_.spin_ms : state_ == State::brake ? spec_.brake_ms : spec_.coast_ms;
  const double target = drives(state_) ? drive_ : 0;
  speed_ = target + (speed_ - target) * std::exp(-dt / std::max(tau, 1e-3));
  now_ = to;
}

void Esc::power_on(TrueTime at) {
  if (state_ != State::off) return;
  if (log_.empty()) now_ = at;
  pass(at);
  on_ = last_valid_ = now_;
  neutral_seen_ = armed_once_ = latched_ = reverse_free_ = false;
  followed_us_.reset();
  visit_since_.reset(), last_forward_.reset(), last_reverse_.reset();
  neutral_since_.reset(), high_since_.reset();
  neutral_count_ = high_count_ = 0;
  enter(State::waiting, now_, "power on");
}

void Esc::power_off(TrueTime at) {
  pass(at);
  drive_ = 0;
  enter(State::off, now_, "power off");
}

void Esc::pulse(const Pulse& p) {
  if (state_ == State::off) return;
  const double read = p.width_us * (1 + spec_.clock_ppm / 1e6);
  pass(p.rise + TrueSpan{std::llround(p.width_us * 1e3)});
  if (state_ == State::learning || state_ == State::locked_out) return;
  if (read < spec_.valid_low_us || read > spec_.valid_high_us) return outside(now_, read);
  last_valid_ = now_;
  const double most = spec_.slew_share > 0 ? spec_.slew_share * (spec_.high_us - spec_.low_us) : 1e9;
  followed_us_ = followed_us_ ? *followed_us_ + std::clamp(read - *followed_us_, -most, most) : read;
  const double off = *followed_us_ - spec_.neutral_us;
  if (armed(state_))
    drive(now_, off);
  else
    unarmed(now_, off);
}

void Esc::outside(TrueTime at, double read_us) {
  if (!armed(state_)) {
    high_since_.reset(), high_count_ = 0;
    return restart_arming(at, "a pulse of " + whole(read_us) + " us is no signal");
  }
  if (!spec_.over_range_cuts || read_us <= spec_.valid_high_us) return;
  latched_ = true;
  enter(State::lost, at, "a pulse of " + whole(read_us) + " us is taken for a lost signal");
}

void Esc::restart_arming(TrueTime at, std::string reason) {
  neutral_since_.reset();
  neutral_count_ = 0;
  if (state_ == State::arming) enter(State::waiting, at, std::move(reason));
}

bool Esc::learns(TrueTime at, double off_us) {
  if (spec_.learn_off_us <= 0 || neutral_seen_ || off_us < spec_.learn_off_us) {
    high_since_.reset(), high_count_ = 0;
    return false;
  }
  if (!high_since_) high_since_ = at;
  ++high_count_;
  if (high_count_ < spec_.learn_count || at - *high_since_ < ms(spec_.learn_ms)) return false;
  enter(State::learning, at, whole(high_count_) + " pulses of about " + whole(spec_.neutral_us + off_us) + " us before any neutral one");
  return true;
}

void Esc::unarmed(TrueTime at, double off_us) {
  if (learns(at, off_us)) return;
  if (std::abs(off_us) <= spec_.neutral_half_us) return arm(at);
  restart_arming(at, "a pulse of " + whole(spec_.neutral_us + off_us) + " us is not neutral");
}

void Esc::arm(TrueTime at) {
  neutral_seen_ = true;
  if (!neutral_since_) neutral_since_ = at;
  ++neutral_count_;
  const double lasted = in_ms(at - *neutral_since_);
  const int decayed = spec_.arm_decay_ms > 0 ? static_cast<int>(lasted / spec_.arm_decay_ms) : 0;
  enter(State::arming, at, "first neutral pulse");
  if (neutral_count_ - decayed < 1) return restart_arming(at, "neutral pulses too far apart");
  if (neutral_count_ - decayed < spec_.arm_count || lasted < spec_.arm_ms) return;
  armed_once_ = reverse_free_ = true;
  drive_ = 0;
  enter(State::neutral, at, "armed by " + whole(neutral_count_) + " neutral pulses in " + whole(lasted) + " ms");
}

void Esc::drive(TrueTime at, double off_us) {
  const bool neutral = std::abs(off_us) <= spec_.neutral_half_us;
  if (latched_ && !neutral) return;
  latched_ = false;
  if (neutral) return rest(at);
  visit_since_.reset();
  if (off_us > 0)
    forwards(at, off_us);
  else
    backwards(at, off_us);
}

void Esc::rest(TrueTime at) {
  drive_ = 0;
  enter(State::neutral, at, "neutral pulse");
  const bool counts = spec_.reverse != Reverse::after_standstill || std::abs(speed_) <= spec_.standstill_speed;
  if (!counts) {
    visit_since_.reset();  // still rolling: neutral counts from standstill on
    return;
  }
  if (!visit_since_) visit_since_ = at;
  if (at - *visit_since_ >= ms(spec_.neutral_visit_ms)) reverse_free_ = true;
}

void Esc::forwards(TrueTime at, double off_us) {
  if (spec_.reverse == Reverse::timed && last_reverse_ && at - *last_reverse_ < ms(spec_.dead_ms)) {
    drive_ = 0;
    return enter(State::dead_time, at, "forward asked too soon after reverse");
  }
  drive_ = std::min(1.0, off_us / (spec_.high_us - spec_.neutral_us));
  reverse_free_ = false;
  last_forward_ = at;
  enter(State::forward, at, "pulse above neutral");
}

bool Esc::may_reverse(TrueTime at) const {
  switch (spec_.reverse) {
    case Reverse::direct:
      return state_ == State::reverse || speed_ <= spec_.reverse_below_speed;
    case Reverse::brake_only:
      return false;
    case Reverse::after_neutral:
    case Reverse::after_standstill:
      return reverse_free_;
    case Reverse::timed:
      return !last_forward_ || at - *last_forward_ >= ms(spec_.dead_ms);
  }
  return false;
}

void Esc::backwards(TrueTime at, double off_us) {
  if (may_reverse(at)) {
    drive_ = std::max(-1.0, off_us / (spec_.neutral_us - spec_.low_us));
    last_reverse_ = at;
    return enter(State::reverse, at, "pulse below neutral");
  }
  drive_ = 0;
  if (spec_.reverse == Reverse::timed) return enter(State::dead_time, at, "reverse asked too soon after forward");
  if (spec_.reverse == Reverse::direct) return enter(State::dead_time, at, "reverse asked while still too fast");
  enter(State::brake, at, spec_.reverse == Reverse::brake_only ? "pulse below neutral" : "pulse below neutral, straight from forward");
}

std::optional<TrueTime> Esc::deadline() const {
  if (state_ == State::off || state_ == State::learning || state_ == State::locked_out) return std::nullopt;
  if (state_ == State::lost) return std::max(now_, last_valid_ + ms(std::max(spec_.cut_ms, spec_.disarm_ms)));
  if (armed(state_)) return last_valid_ + ms(spec_.cut_ms);
  std::optional<TrueTime> next;
  if (neutral_since_) next = last_valid_ + ms(spec_.cut_ms);
  if (spec_.power_on == PowerOn::lock_out && !armed_once_) {
    const TrueTime gives_up = on_ + ms(spec_.patience_ms);
    if (!next || gives_up < *next) next = gives_up;
  }
  return next;
}

void Esc::expire(TrueTime at) {
  if (state_ == State::lost) {
    drive_ = 0, latched_ = false;
    neutral_since_.reset(), neutral_count_ = 0;
    return enter(State::waiting, at, "disarmed after " + whole(spec_.disarm_ms) + " ms without a signal");
  }
  if (armed(state_)) {
    drive_ = 0;
    return enter(State::lost, at, "no valid pulse for " + whole(spec_.cut_ms) + " ms");
  }
  if (neutral_since_ && at >= last_valid_ + ms(spec_.cut_ms)) return restart_arming(at, "pulses stopped");
  enter(State::locked_out, at, "not armed within " + whole(spec_.patience_ms) + " ms");
}

void Esc::pass(TrueTime until) {
  for (auto next = deadline(); next && *next <= until; next = deadline()) {
    const TrueTime at = std::max(now_, *next);
    roll(at);
    expire(at);
  }
  roll(until);
}

std::vector<Stretch> Esc::states(TrueTime until) {
  pass(until);
  std::vector<Stretch> all = log_;
  if (!all.empty()) all.back().end = now_;
  return all;
}

std::vector<Stretch> run(const Spec& spec, const std::vector<Pulse>& pulses, TrueTime on, TrueTime off) {
  Esc esc(spec);
  esc.power_on(on);
  for (const Pulse& p : pulses)
    if (p.rise >= on && p.rise < off) esc.pulse(p);
  return esc.states(off);
}

}  // namespace midstick::esc
