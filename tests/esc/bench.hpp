// An ESC on a bench: pulses of one width at a frame rate, for so long; then its states as one line of text.
#pragma once

#include <cmath>
#include <string>

#include "daemon/esc/esc.hpp"
#include "daemon/esc/presets.hpp"

namespace midstick::esc_test {

using esc::Esc;
using esc::Reverse;
using esc::Spec;
using esc::State;
using esc::TrueTime;

inline TrueTime at_ms(double ms) { return {static_cast<std::int64_t>(ms * 1e6)}; }

/// 1000/1500/2000 us, armed by 10 pulses and 200 ms.
inline Spec plain() {
  Spec s;
  s.arm_ms = 200, s.arm_count = 10;
  return s;
}
inline Spec with(Reverse reverse) {
  Spec s = plain();
  s.reverse = reverse;
  return s;
}

class Bench {
 public:
  explicit Bench(const Spec& spec, double frame_ms = 20) : esc_(spec), frame_ms_(frame_ms) { esc_.power_on({0}); }

  /// Pulses of this width for so long; the ESC's state afterwards.
  State send(double width_us, double ms) {
    for (const double end = now_ms_ + ms; now_ms_ < end; now_ms_ += frame_ms_) esc_.pulse({at_ms(now_ms_), width_us});
    esc_.pass(at_ms(now_ms_));
    return esc_.state();
  }
  State silent(double ms) {
    now_ms_ += ms;
    esc_.pass(at_ms(now_ms_));
    return esc_.state();
  }
  Bench& arm() {
    send(1500, 400);
    return *this;
  }
  Esc& esc() { return esc_; }
  double now_ms() const { return now_ms_; }

  /// "waiting arming neutral".
  std::string told() {
    std::string text;
    for (const auto& s : esc_.states(at_ms(now_ms_))) text += (text.empty() ? "" : ", ") + std::string(esc::name(s.state));
    return text;
  }
  /// When it first was in this state, ms; -1 never.
  double first(State state) {
    for (const auto& s : esc_.states(at_ms(now_ms_)))
      if (s.state == state) return static_cast<double>(s.begin.count) / 1e6;
    return -1;
  }
  std::string last_reason() { return esc_.states(at_ms(now_ms_)).back().reason; }

 private:
  Esc esc_;
  double frame_ms_, now_ms_{0};
};

}  // namespace midstick::esc_test
