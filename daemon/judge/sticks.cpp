#include "daemon/judge/sticks.hpp"

#include <algorithm>
#include <cmath>

#include "daemon/mixer/slew.hpp"
#include "daemon/script/percent.hpp"

namespace midstick::judge {

double whole_frames_ms(const script::Plan& plan, double ms) {
  const double frame = plan.frame.period_us / 1e3;
  return std::max(1.0, std::ceil(ms / frame - 1e-9)) * frame;
}

Sticks::Sticks(const script::Plan& plan, const std::string& name, std::uint64_t seed) : plan_(&plan) {
  script_.name = name;
  script_.frame = plan.frame;
  script_.seed = seed;
}

Sticks& Sticks::arm() {
  hold(0, 0, plan_->spec.arm.neutral_ms + kArmMarginMs, "arm");
  return *this;
}

script::Move& Sticks::hold(double throttle, double steering, double ms, std::string mark) {
  return hold_us(script::width_of_percent(plan_->spec.throttle, throttle), script::width_of_percent(plan_->spec.steering, steering), ms,
                 std::move(mark));
}

script::Move& Sticks::hold_us(double throttle, double steering, double ms, std::string mark) {
  script::Move move;
  move.for_ms = whole_frames_ms(*plan_, ms);
  move.from = {{plan_->spec.throttle.name, throttle}, {plan_->spec.steering.name, steering}};
  move.mark = std::move(mark);
  script_.moves.push_back(std::move(move));
  return script_.moves.back();
}

double Sticks::slewing_ms(double throttle, double steering) const {
  const auto& spec = plan_->spec;
  mixer::Pair from;
  if (!script_.moves.empty()) {
    const auto at = [last = &script_.moves.back().from](const mixer::InputSpec& in) {
      const auto it = last->find(in.name);
      return mixer::stick(in, it == last->end() ? in.centre_us : it->second);
    };
    from = {at(spec.throttle), at(spec.steering)};
  }
  const mixer::Pair to{mixer::stick(spec.throttle, script::width_of_percent(spec.throttle, throttle)),
                       mixer::stick(spec.steering, script::width_of_percent(spec.steering, steering))};
  // Judged by the widths really sent, one track more may seem to turn round.
  return 1e3 * mixer::settle_seconds(spec, from, to) + spec.turn_rest_ms;
}

script::Move& Sticks::silent(double ms, std::string mark) {
  script::Move& move = hold(0, 0, ms, std::move(mark));
  move.faults = {fault_of(plan_->spec.throttle, script::Fault::drop), fault_of(plan_->spec.steering, script::Fault::drop)};
  return move;
}

Sticks& Sticks::play(const script::StickScript& own) {
  script_.frame = own.frame;
  script_.seed ^= own.seed;
  script_.moves.insert(script_.moves.end(), own.moves.begin(), own.moves.end());
  return *this;
}

script::ChannelFault fault_of(const mixer::InputSpec& in, script::Fault fault) {
  script::ChannelFault f;
  f.input = in.name;
  f.fault = fault;
  return f;
}

DrivePoints::DrivePoints(const script::PlannedCheck& check, std::uint64_t seed)
    : draw_(seed),
      low_(std::llround(param(check, "drive_low_percent"))),
      high_(std::max<std::int64_t>(low_, std::llround(param(check, "drive_high_percent")))) {}

double DrivePoints::next() { return static_cast<double>(draw_.within(low_, high_)); }

double param(const script::PlannedCheck& check, const char* name) { return check.params.at(name).get<double>(); }

double param_or(const script::PlannedCheck& check, const char* name, double otherwise) {
  const auto it = check.params.find(name);
  return it == check.params.end() || it->is_null() ? otherwise : it->get<double>();
}

int count_param(const script::PlannedCheck& check, const char* name) { return check.params.at(name).get<int>(); }

}  // namespace midstick::judge
