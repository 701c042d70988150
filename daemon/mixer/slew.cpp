#include "daemon/mixer/slew.hpp"

#include <algorithm>
#include <cmath>

namespace midstick::mixer {
namespace {

constexpr double kTurnStep = 0.005;  // s: the way is followed in such steps for tracks that turn round
constexpr double kAtNeutral = 0.02;  // of full speed

double leg_seconds(double distance, double rate) { return rate > 0 ? distance / rate : 0; }

/// Does the way from `from` to `to` pass the centre?
bool crosses(double from, double to) { return from * to < 0; }

}  // namespace

double slew_seconds(const InputSpec& in, double from, double to) {
  if (crosses(from, to)) return leg_seconds(std::abs(from), in.slew_down) + leg_seconds(std::abs(to), in.slew_up);
  const double outward = std::abs(to) - std::abs(from);
  return outward >= 0 ? leg_seconds(outward, in.slew_up) : leg_seconds(-outward, in.slew_down);
}

double SlewedStick::advance(double target, double seconds) {
  seconds = std::max(0.0, seconds);
  if (crosses(at_, target) && down_ > 0) {
    const double to_centre = std::abs(at_) / down_;
    if (to_centre > seconds) return at_ -= std::copysign(down_ * seconds, at_);
    seconds -= to_centre;
    at_ = 0;
  } else if (crosses(at_, target)) {
    at_ = 0;
  }
  const double rate = std::abs(target) > std::abs(at_) ? up_ : down_;
  if (rate <= 0) return at_ = target;
  const double step = rate * seconds;
  return at_ = std::abs(target - at_) <= step ? target : at_ + std::copysign(step, target - at_);
}

Interval SlewedRange::advance(Interval target, double seconds_low, double seconds_high) {
  const auto after = [](SlewedStick stick, double to, double seconds) { return stick.advance(to, seconds); };
  const double low = std::min(after(low_, target.low, seconds_low), after(low_, target.low, seconds_high));
  const double high = std::max(after(high_, target.high, seconds_low), after(high_, target.high, seconds_high));
  jump_to({low, high});
  return {low, high};
}

double settle_seconds(const MixerSpec& spec, Pair from, Pair to) {
  const double slew = std::max(slew_seconds(spec.throttle, from.left, to.left), slew_seconds(spec.steering, from.right, to.right));
  if (spec.turn_rest_ms <= 0) return slew;
  SlewedStick throttle(spec.throttle, from.left), steering(spec.steering, from.right);
  Pair was = mix(spec, from.left, from.right);
  // At neutral, or a reading error behind it, a track may have been ahead before and not rested yet.
  bool ahead[2] = {was.left > -kAtNeutral, was.right > -kAtNeutral};
  int turns = 0;
  for (double t = 0; t <= slew + kTurnStep; t += kTurnStep) {
    const Pair y = mix(spec, throttle.advance(to.left, kTurnStep), steering.advance(to.right, kTurnStep));
    for (const auto& [side, now] : {std::pair{0, y.left}, std::pair{1, y.right}}) {
      turns += ahead[side] && now < 0;
      ahead[side] = now > 0 || (ahead[side] && now == 0);
    }
  }
  return slew + turns * spec.turn_rest_ms / 1e3;
}

double longest_slew_seconds(const MixerSpec& spec) {
  const auto end_to_end = [](const InputSpec& in) { return slew_seconds(in, in.rate, -in.rate); };
  double longest = std::max(end_to_end(spec.throttle), end_to_end(spec.steering));
  for (const InputSpec& in : spec.more_inputs) longest = std::max(longest, end_to_end(in));
  return longest + 2 * spec.turn_rest_ms / 1e3;
}

}  // namespace midstick::mixer
