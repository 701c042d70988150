#include "daemon/judge/envelope_causes.hpp"

#include <algorithm>
#include <cmath>
#include <functional>

#include "daemon/judge/text.hpp"
#include "daemon/mixer/slew.hpp"
#include "daemon/statistics/summary.hpp"

namespace midstick::judge {
namespace {

using Chosen = std::vector<const Outlier*>;

constexpr double kMost = 0.8;          // of the outliers a cause must explain to be named
constexpr double kSpikeUs = 300;       // shorter is no pulse
constexpr double kConstantSdUs = 1.5;  // a constant error scatters by the controller's own steps
constexpr std::size_t kFew = 3;

Chosen those(const std::vector<Outlier>& all, const std::function<bool(const Outlier&)>& which) {
  Chosen found;
  for (const Outlier& o : all)
    if (which(o)) found.push_back(&o);
  return found;
}

double share(std::size_t part, std::size_t all) { return all == 0 ? 0 : static_cast<double>(part) / static_cast<double>(all); }

std::string count_of(std::size_t part, std::size_t all) {
  return whole(static_cast<std::int64_t>(part)) + " of " + whole(static_cast<std::int64_t>(all)) + " pulses outside ";
}

/// Outliers of driving that a changed spec allows.
std::size_t explained(const Chosen& driving, const mixer::MixerSpec& changed, double input_us, double tolerance_us) {
  std::size_t n = 0;
  for (const Outlier* o : driving) {
    const auto sticks = [&](const mixer::InputSpec& in, const mixer::Interval& us) {
      return mixer::stick_within(in, {us.low - input_us, us.high + input_us});
    };
    const auto y =
        mixer::outputs_within(changed, sticks(changed.throttle, o->allowed.throttle_us), sticks(changed.steering, o->allowed.steering_us));
    const mixer::Interval range = o->side == Side::left ? y.left : y.right;
    n += o->us >= range.low - tolerance_us && o->us <= range.high + tolerance_us;
  }
  return n;
}

void from_changed_specs(const mixer::MixerSpec& spec, const Chosen& driving, std::size_t all, double input_us, double tolerance_us,
                        std::vector<Cause>& causes) {
  mixer::MixerSpec clip = spec, flips = spec, band = spec, expo = spec;
  clip.law = mixer::Law::clip;
  flips.reverse_steering =
      spec.reverse_steering == mixer::ReverseSteering::tank ? mixer::ReverseSteering::car : mixer::ReverseSteering::tank;
  band.throttle.dead_band = band.steering.dead_band = mixer::DeadBandKind::none;
  expo.throttle.expo = expo.steering.expo = 0;
  const struct {
    const char* id;
    const mixer::MixerSpec& changed;
    bool differs;
    const char* text;
  } suspects[] = {{"plain-clip", clip, spec.law != mixer::Law::clip, "are what clipping each side alone gives"},
                  {"steering-flips", flips, true, "are what steering to the other side in reverse gives"},
                  {"no-dead-band", band, spec.throttle.dead_band != mixer::DeadBandKind::none, "are what no dead band gives"},
                  {"no-expo", expo, spec.throttle.expo != 0 || spec.steering.expo != 0, "are what no expo gives"}};
  for (const auto& s : suspects) {
    if (!s.differs) continue;
    const std::size_t n = explained(driving, s.changed, input_us, tolerance_us);
    if (const double fit = share(n, all); fit >= kMost) causes.push_back({s.id, fit, count_of(n, all) + s.text});
  }
}

/// Driven while it had to be at rest: with the signal missing, or with the signal there and the sticks not yet rested.
void from_rests(const std::vector<Outlier>& all, std::vector<Cause>& causes) {
  const auto missing =
      those(all, [](const Outlier& o) { return o.allowed.duty == Duty::lost && (o.allowed.lost_input[0] || o.allowed.lost_input[1]); });
  const auto both =
      those(all, [](const Outlier& o) { return o.allowed.duty == Duty::lost && o.allowed.lost_input[0] && o.allowed.lost_input[1]; });
  const auto back =
      those(all, [](const Outlier& o) { return o.allowed.duty == Duty::lost && !o.allowed.lost_input[0] && !o.allowed.lost_input[1]; });
  const auto started =
      those(all, [](const Outlier& o) { return o.allowed.duty == Duty::stay_safe && o.allowed.since_power_ms >= 0 && o.us >= kSpikeUs; });
  const auto spikes = those(all, [](const Outlier& o) { return o.us < kSpikeUs && o.allowed.since_power_ms >= 0; });
  if (const double fit = share(spikes.size(), all.size()); fit >= kMost)
    causes.push_back({"boot-glitch", fit, count_of(spikes.size(), all.size()) + "are spikes after power or a reset"});
  if (const double fit = share(back.size() + started.size(), all.size()); fit >= kMost) {
    const double other = back.size() >= started.size() ? 0.9 : 1;  // the rarer of the two comes second
    if (!back.empty())
      causes.push_back({"no-rearm", fit * (1.9 - other),
                        count_of(back.size(), all.size()) + "come after the signal returned, before the sticks rested at neutral"});
    if (!started.empty())
      causes.push_back({"drives-without-neutral", fit * other,
                        count_of(started.size(), all.size()) + "come after power or a reset, before the sticks rested at neutral"});
  } else if (const double gone = share(missing.size() + back.size(), all.size()); gone >= kMost && !both.empty()) {
    causes.push_back({"no-loss-action", gone, count_of(both.size(), all.size()) + "come after both channels were lost"});
  } else if (gone >= kMost) {
    causes.push_back(
        {"one-channel-loss", gone, count_of(missing.size(), all.size()) + "come after one channel was lost, and none after both were"});
  }
}

/// One error for all: at rest, or at an end.
void from_constant_error(const mixer::MixerSpec& spec, const Chosen& driving, std::size_t all, std::vector<Cause>& causes) {
  if (driving.size() < kFew || share(driving.size(), all) < kMost) return;
  std::vector<double> off;
  bool at_rest = true, at_end = true;
  for (const Outlier* o : driving) {
    const auto& range = o->allowed.driven[static_cast<std::size_t>(o->side)];
    const auto& rest = o->allowed.rest[static_cast<std::size_t>(o->side)];
    const mixer::OutputSpec& out = o->side == Side::left ? spec.left : spec.right;
    off.push_back(o->us > range.high ? o->us - range.high : o->us - range.low);
    at_rest = at_rest && range.low >= rest.low - 1 && range.high <= rest.high + 1;
    at_end = at_end && (o->us < out.clamp_low_us || o->us > out.clamp_high_us);
  }
  const statistics::Summary s = statistics::summarise(off);
  const double fit = share(driving.size(), all);
  const std::string by = "by " + num(s.mean) + " us, give or take " + num(s.sd) + " us";
  if (at_end) causes.push_back({"limit-off", fit, count_of(driving.size(), all) + "are past an output's end " + by});
  if (at_rest && s.sd <= kConstantSdUs) causes.push_back({"neutral-off", fit, count_of(driving.size(), all) + "are off neutral " + by});
}

/// Alone among good ones, and all off by whole steps of one counter byte.
void from_spikes(const Chosen& driving, std::size_t all, std::vector<Cause>& causes) {
  constexpr double kByteUs = 128;  // 256 counts of 0.5 us
  std::size_t alone = 0, stepped = 0;
  for (const Outlier* o : driving) {
    if (o->lasting) continue;
    ++alone;
    const auto& range = o->allowed.driven[static_cast<std::size_t>(o->side)];
    const double off = (o->us > range.high ? o->us - range.high : range.low - o->us) / kByteUs;
    stepped += off > 0.5 && std::abs(off - std::round(off)) < 0.1;
  }
  if (alone >= kFew && share(stepped, all) >= kMost)
    causes.push_back({"torn-read", share(stepped, all),
                      count_of(stepped, all) + "stand alone and are off by a multiple of 128 us, 256 counts of 0.5 us"});
}

}  // namespace

std::vector<Cause> causes_of(const script::Plan& plan, const std::vector<Outlier>& outliers, double input_us, double tolerance_us) {
  std::vector<Cause> causes;
  const auto driving = those(outliers, [](const Outlier& o) { return o.allowed.drives; });
  from_rests(outliers, causes);
  from_constant_error(plan.spec, driving, outliers.size(), causes);
  from_spikes(driving, outliers.size(), causes);
  if (mixer::longest_slew_seconds(plan.spec) == 0) from_changed_specs(plan.spec, driving, outliers.size(), input_us, tolerance_us, causes);
  std::stable_sort(causes.begin(), causes.end(), [](const Cause& a, const Cause& b) { return a.fit > b.fit; });
  return causes;
}

}  // namespace midstick::judge
