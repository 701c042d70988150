#include "daemon/esc/presets.hpp"

namespace midstick::esc {
namespace {

constexpr Preset kPresets[] = {
    {"direct", "forward and reverse at once, as most tracked machines use it"},
    {"counted-arming", "direct; arms by counted neutral pulses, the count decays, and the first high pulses enter its learn mode"},
    {"soft-turn", "direct; follows its input slowly and reverses only when the vehicle has slowed down"},
    {"brake-only", "brakes below neutral and never reverses"},
    {"brake-neutral-reverse", "brakes first; reverses once neutral has been sent"},
    {"brake-stop-reverse", "brakes first; reverses once neutral has been sent while the vehicle stands"},
    {"timed-reverse", "keeps the motor off for a while before it turns round"},
    {"strict", "direct; locks out when neutral comes late, and takes a pulse that is too long for a lost signal"},
};

void shape(std::string_view name, Spec& s) {
  if (name == "counted-arming") {
    s.arm_ms = 0, s.arm_count = 10, s.arm_decay_ms = 65.5;
    s.learn_off_us = 160, s.learn_count = 32;
    s.neutral_half_us = 20;
    s.cut_ms = 131;
  } else if (name == "soft-turn") {
    s.arm_ms = 1000, s.arm_count = 30;
    s.slew_share = 0.125, s.reverse_below_speed = 0.2;
    s.neutral_half_us = 80;
    s.cut_ms = 500;
  } else if (name == "brake-only") {
    s.reverse = Reverse::brake_only;
  } else if (name == "brake-neutral-reverse") {
    s.reverse = Reverse::after_neutral;
  } else if (name == "brake-stop-reverse") {
    s.reverse = Reverse::after_standstill;
  } else if (name == "timed-reverse") {
    s.reverse = Reverse::timed;
  } else if (name == "strict") {
    s.power_on = PowerOn::lock_out, s.patience_ms = 2000;
    s.over_range_cuts = true;
    s.learn_ms = 2000;
  }
}

}  // namespace

std::span<const Preset> presets() { return kPresets; }

std::optional<Spec> preset(std::string_view name, double low_us, double neutral_us, double high_us) {
  for (const Preset& p : kPresets) {
    if (name != p.name) continue;
    Spec s;
    s.name = p.name;
    s.low_us = low_us, s.neutral_us = neutral_us, s.high_us = high_us;
    shape(name, s);
    return s;
  }
  return std::nullopt;
}

}  // namespace midstick::esc
