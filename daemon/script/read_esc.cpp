// The ESC of an output: a preset at the output's ends, with the numbers that the file gives in place of the preset's.
#include <map>

#include "daemon/esc/presets.hpp"
#include "daemon/script/readers.hpp"

namespace midstick::script {
namespace {

using nlohmann::json;

constexpr struct {
  const char* key;
  double esc::Spec::*member;
} kNumbers[] = {
    {"valid_low_us", &esc::Spec::valid_low_us},
    {"valid_high_us", &esc::Spec::valid_high_us},
    {"low_us", &esc::Spec::low_us},
    {"neutral_us", &esc::Spec::neutral_us},
    {"high_us", &esc::Spec::high_us},
    {"neutral_half_us", &esc::Spec::neutral_half_us},
    {"clock_ppm", &esc::Spec::clock_ppm},
    {"slew_share", &esc::Spec::slew_share},
    {"arm_ms", &esc::Spec::arm_ms},
    {"arm_decay_ms", &esc::Spec::arm_decay_ms},
    {"patience_ms", &esc::Spec::patience_ms},
    {"learn_off_us", &esc::Spec::learn_off_us},
    {"learn_ms", &esc::Spec::learn_ms},
    {"reverse_below_speed", &esc::Spec::reverse_below_speed},
    {"neutral_visit_ms", &esc::Spec::neutral_visit_ms},
    {"standstill_speed", &esc::Spec::standstill_speed},
    {"dead_ms", &esc::Spec::dead_ms},
    {"cut_ms", &esc::Spec::cut_ms},
    {"disarm_ms", &esc::Spec::disarm_ms},
    {"spin_ms", &esc::Spec::spin_ms},
    {"coast_ms", &esc::Spec::coast_ms},
    {"brake_ms", &esc::Spec::brake_ms},
};

esc::Reverse reverse_of(const std::string& name) {
  static const std::map<std::string, esc::Reverse> variants{{"direct", esc::Reverse::direct},
                                                            {"brake_only", esc::Reverse::brake_only},
                                                            {"after_neutral", esc::Reverse::after_neutral},
                                                            {"after_standstill", esc::Reverse::after_standstill},
                                                            {"timed", esc::Reverse::timed}};
  return variants.at(name);
}

}  // namespace

std::optional<esc::Spec> read_esc(const json& entry, const mixer::OutputSpec& out) {
  if (!entry.contains("esc")) return std::nullopt;
  const json& given = entry["esc"];
  auto spec = esc::preset(given["preset"].get<std::string>(), out.low_us, out.neutral_us + out.trim_us, out.high_us);
  if (!spec) return std::nullopt;  // the schema names the presets; a test holds it to them
  for (const auto& [key, member] : kNumbers)
    if (given.contains(key)) (*spec).*member = given[key];
  if (given.contains("arm_count")) spec->arm_count = given["arm_count"];
  if (given.contains("learn_count")) spec->learn_count = given["learn_count"];
  if (given.contains("over_range_cuts")) spec->over_range_cuts = given["over_range_cuts"];
  if (given.contains("power_on")) spec->power_on = given["power_on"] == "wait" ? esc::PowerOn::wait : esc::PowerOn::lock_out;
  if (given.contains("reverse")) spec->reverse = reverse_of(given["reverse"]);
  return spec;
}

std::optional<Error> check_esc(const Source& source, const std::string& pointer, const mixer::OutputSpec& out) {
  const auto spec = read_esc(source.value[json::json_pointer(pointer)], out);
  if (!spec) return std::nullopt;
  const std::string at = child(pointer, "esc");
  if (spec->low_us >= spec->neutral_us || spec->neutral_us >= spec->high_us)
    return source.error(at, "found low, neutral and high of " + shown(spec->low_us) + ", " + shown(spec->neutral_us) + " and " +
                                shown(spec->high_us) + " us; expected them to rise");
  if (spec->valid_low_us >= spec->neutral_us - spec->neutral_half_us || spec->valid_high_us <= spec->neutral_us + spec->neutral_half_us)
    return source.error(at, "found pulses of " + shown(spec->valid_low_us) + " to " + shown(spec->valid_high_us) +
                                " us taken for a signal; expected its neutral within");
  return std::nullopt;
}

}  // namespace midstick::script
