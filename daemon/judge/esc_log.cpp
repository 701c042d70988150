#include "daemon/judge/esc_log.hpp"

#include <algorithm>
#include <cmath>

#include "daemon/esc/presets.hpp"

namespace midstick::judge {

esc::Spec esc_of(const script::Plan& plan, Side side) {
  const auto& out = side == Side::left ? plan.spec.left : plan.spec.right;
  return out.esc ? *out.esc : *esc::preset("direct", out.low_us, out.neutral_us + out.trim_us, out.high_us);
}

std::vector<EscStretch> esc_states(const script::Plan& plan, const Traffic& t, Side side, BoardTime on, BoardTime off) {
  const auto& clock = t.capture().clock;
  const auto true_time = [&](BoardTime at) { return esc::TrueTime{std::llround(clock.us(at - on) * 1e3)}; };
  const auto board = [&](esc::TrueTime at) { return std::clamp(on + clock.ticks({at.count}), on, off); };
  std::vector<esc::Pulse> pulses;
  for (const Pulse& p : t.output(side).within(on, off)) pulses.push_back({true_time(p.rise), clock.us(p.width())});
  std::vector<EscStretch> states;
  for (auto& s : esc::run(esc_of(plan, side), pulses, {0}, true_time(off)))
    states.push_back({s.state, board(s.begin), board(s.end), std::move(s.reason)});
  return states;
}

double esc_arming_ms(const script::Plan& plan, const esc::Spec& spec) {
  const double frame = plan.spec.frame.period_high_ms;
  const double net = spec.arm_decay_ms > 0 ? std::max(0.1, 1 - frame / spec.arm_decay_ms) : 1;
  return std::max(spec.arm_ms, (spec.arm_count + 1) / net * frame) + frame;
}

}  // namespace midstick::judge
