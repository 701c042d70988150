#include "tests/script/describe.hpp"

#include <sstream>

namespace midstick::script {
namespace {

void put(std::ostream& out, const std::vector<ControllerPin>& pins) {
  for (const auto& p : pins) out << p.name << ' ' << p.line << ' ' << int{p.line_no} << ' ' << int{p.port} << ' ' << int{p.bit} << '\n';
}

void put(std::ostream& out, const std::map<std::string, double>& values) {
  for (const auto& [key, value] : values) out << key << '=' << value << ' ';
  out << '\n';
}

void put(std::ostream& out, const mixer::InputSpec& in) {
  out << in.name << ' ' << in.low_us << ' ' << in.centre_us << ' ' << in.high_us << ' ' << in.reversed << ' '
      << static_cast<int>(in.dead_band) << ' ' << in.dead_band_half_us << ' ' << in.dead_band_hysteresis_us << ' ' << in.dead_band_softness
      << ' ' << in.square << ' ' << in.expo << ' ' << in.rate << ' ' << in.slew_up << ' ' << in.slew_down << '\n';
}

void put(std::ostream& out, const esc::Spec& e) {
  out << e.name << ' ' << e.over_range_cuts << ' ' << static_cast<int>(e.power_on) << ' ' << static_cast<int>(e.reverse);
  for (const double value :
       {e.valid_low_us,     e.valid_high_us,    e.low_us,       e.neutral_us,  e.high_us,      e.neutral_half_us, e.clock_ppm,
        e.slew_share,       e.arm_ms,           e.arm_decay_ms, e.patience_ms, e.learn_off_us, e.learn_ms,        e.reverse_below_speed,
        e.neutral_visit_ms, e.standstill_speed, e.dead_ms,      e.cut_ms,      e.disarm_ms,    e.spin_ms,         e.coast_ms,
        e.brake_ms})
    out << ' ' << value;
  out << ' ' << e.arm_count << ' ' << e.learn_count << '\n';
}

void put(std::ostream& out, const mixer::OutputSpec& o) {
  out << o.name << ' ' << o.low_us << ' ' << o.neutral_us << ' ' << o.high_us << ' ' << o.reversed << ' ' << o.reverse_limit << ' '
      << o.start_offset << ' ' << o.trim_us << ' ' << o.clamp_low_us << ' ' << o.clamp_high_us << '\n';
  if (o.esc) put(out, *o.esc);
}

void put(std::ostream& out, const std::vector<std::vector<double>>& rows) {
  for (const auto& row : rows) {
    for (const double value : row) out << value << ' ';
    out << '\n';
  }
}

void put(std::ostream& out, const ReceiverFrame& frame) {
  out << frame.period_us << ' ' << frame.jitter_us << ' ' << frame.dither_us << ' ' << static_cast<int>(frame.order) << ' '
      << frame.overlap_us << '\n';
  put(out, frame.phase_us);
  put(out, frame.drift_us);
}

void put(std::ostream& out, const Move& move) {
  out << static_cast<int>(move.kind) << ' ' << move.for_ms << ' ' << move.period_ms << ' ' << move.point_ms << ' ' << move.mark << '\n';
  for (const auto* values : {&move.from, &move.to, &move.amplitude_us}) put(out, *values);
  for (const auto& point : move.points) put(out, point);
  for (const auto& fault : move.faults)
    out << fault.input << ' ' << static_cast<int>(fault.fault) << ' ' << fault.at_us << ' ' << fault.width_us << ' ' << fault.at_to_us
        << ' ' << fault.for_us << ' ' << fault.share << '\n';
  out << move.action_within_ms << '\n';
  if (move.frame) put(out, *move.frame);
  for (const ActionKind action : move.actions) out << static_cast<int>(action) << '\n';
}

std::ostringstream exact() {
  std::ostringstream out;
  out.precision(17);
  return out;
}

}  // namespace

std::string described(const ControllerDescription& c) {
  auto out = exact();
  out << c.name << '\n' << c.image << '\n' << c.chip << '\n' << c.clock_hz << ' ' << c.boot_ms << '\n';
  put(out, c.inputs);
  put(out, c.outputs);
  for (const Relay& r : c.relays) out << r.name << ' ' << r.line << ' ' << int{r.line_no} << '\n';
  out << c.serial << '\n';
  return out.str();
}

std::string described(const mixer::MixerSpec& s) {
  auto out = exact();
  out << s.name << '\n'
      << static_cast<int>(s.law) << ' ' << s.blend << ' ' << static_cast<int>(s.reverse_steering) << ' ' << s.turn_rest_ms << ' '
      << s.latency_max_ms << '\n';
  out << s.wheel_limit << ' ' << s.quick_turn << ' ' << s.gain_t << ' ' << s.gain_s << ' ' << s.pivot_scale << ' ' << s.speed_scale << '\n';
  put(out, s.matrix);
  for (const auto* rows : {&s.table.left, &s.table.right}) put(out, *rows);
  put(out, std::vector<std::vector<double>>{s.table.throttle, s.table.steering});
  for (const auto* in : mixer::inputs(s)) put(out, *in);
  for (const auto* o : mixer::outputs(s)) put(out, *o);
  const auto& r = s.receiver;
  out << r.accept_low_us << ' ' << r.accept_high_us << ' ' << r.reject_low_us << ' ' << r.reject_high_us << ' ' << r.runt_us << ' '
      << r.wild_frames << ' ' << r.period_low_ms << ' ' << r.period_high_ms << '\n';
  out << s.loss.safe_within_ms << ' ' << s.loss.safe_half_us << ' ' << s.loss.pulses_may_stop << ' ' << s.loss.tolerate_frames << '\n'
      << s.arm.neutral_ms << ' ' << s.arm.neutral_half_us << ' ' << s.arm.boot_ms << '\n'
      << s.frame.period_low_ms << ' ' << s.frame.period_high_ms << ' ' << s.frame.nominal_ms << ' ' << s.clock_percent << '\n';
  return out.str();
}

std::string described(const StickScript& script) {
  auto out = exact();
  out << script.name << '\n' << script.seed << '\n';
  put(out, script.frame);
  for (const Move& move : script.moves) put(out, move);
  return out.str();
}

std::string described(const Plan& plan) {
  auto out = exact();
  out << plan.name << '\n' << plan.seed << ' ' << plan.shuffle << ' ' << plan.guard_band << '\n';
  put(out, plan.frame);
  for (const auto& check : plan.checks)
    out << check.kind << '\n' << check.name << '\n' << check.repeats << '\n' << check.params.dump() << '\n';
  return out.str();
}

}  // namespace midstick::script
