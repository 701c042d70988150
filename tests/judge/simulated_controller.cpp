#include "tests/judge/simulated_controller.hpp"

#include <algorithm>
#include <cmath>
#include <random>

#include "daemon/mixer/model.hpp"
#include "daemon/script/draw.hpp"
#include "tests/judge/stick_stages.hpp"

namespace midstick::judge_test {
namespace {

constexpr double kNsPerUs = 1e3, kNsPerMs = 1e6;

constexpr double kSpikeUs = 300, kSpikesMatterMs = 30;

struct InputPulse {
  std::int64_t rise_ns, fall_ns;
  double width_us;
};

constexpr double kRuntUs = 300;

/// Each width replaced by the median of it and those before.
void filter(std::vector<InputPulse>& pulses, int median) {
  const auto raw = pulses;
  for (std::size_t i = 0; i < raw.size(); ++i) {
    std::vector<double> last;
    for (std::size_t k = 0; k < static_cast<std::size_t>(median) && k <= i; ++k) last.push_back(raw[i - k].width_us);
    std::sort(last.begin(), last.end());
    pulses[i].width_us = last[last.size() / 2];
  }
}

/// Each width replaced by the mean of it and those before.
void smooth(std::vector<InputPulse>& pulses, int frames) {
  const auto raw = pulses;
  for (std::size_t i = 0; i < raw.size(); ++i) {
    const std::size_t n = std::min(i + 1, static_cast<std::size_t>(frames));
    pulses[i].width_us = 0;
    for (std::size_t k = 0; k < n; ++k) pulses[i].width_us += raw[i - k].width_us / static_cast<double>(n);
  }
}

bool plausible(double us, const Behaviour& b) { return b.no_window || (us > 700 && us < 2300); }

/// A spike taken for the end of the pulse before it and the beginning of the one after it.
void pair_runts(const std::vector<InputPulse>& raw, const Behaviour& b, std::vector<InputPulse>& pulses) {
  for (std::size_t i = 1; i < raw.size(); ++i) {
    const bool now = raw[i].width_us < kRuntUs, before = raw[i - 1].width_us < kRuntUs;
    const double us = static_cast<double>(raw[i].fall_ns - raw[i - 1].rise_ns) / kNsPerUs;
    if ((now || before) && plausible(us, b)) pulses.push_back({raw[i - 1].rise_ns, raw[i].fall_ns, us});
  }
  std::stable_sort(pulses.begin(), pulses.end(), [](const InputPulse& x, const InputPulse& y) { return x.fall_ns < y.fall_ns; });
}

/// Pulses of one input as the controller reads them, implausible ones left out.
std::vector<InputPulse> read_input(const script::Timeline& timeline, std::uint8_t line, const Behaviour& b,
                                   std::vector<std::int64_t>& spikes) {
  std::vector<InputPulse> pulses, raw;
  int read = 0;
  std::int64_t rise = -1;
  bool deaf = false;
  const auto own_us = [&](std::int64_t ns) { return static_cast<double>(ns) / kNsPerUs / (1 - b.clock_ppm / 1e6); };
  const auto stamp = [&](std::int64_t ns) { return std::floor(own_us(ns) / b.input_step_us) * b.input_step_us; };
  for (const auto& e : timeline.edges) {
    if (b.deaf_while_high && e.line == *b.deaf_while_high) deaf = e.level;
    if (e.line != line || deaf) continue;
    if (e.level) {
      rise = e.at.count;
    } else if (rise >= 0) {
      double us = b.input_steps ? stamp(e.at.count) - stamp(rise) : own_us(e.at.count - rise);
      if (b.width_cut) us = std::fmod(us, 32768);
      if (us < kSpikeUs)
        spikes.push_back(e.at.count);
      else if (b.slip_us != 0 && ++read % 37 == 18 * (line % 2))
        us -= b.slip_us;
      const bool soon = !raw.empty() && static_cast<double>(e.at.count - raw.back().fall_ns) < b.least_period_ms * kNsPerMs;
      raw.push_back({rise, e.at.count, us});
      if (plausible(us, b) && !soon) pulses.push_back(raw.back());
    }
  }
  if (b.pairs_runts) pair_runts(raw, b, pulses);
  if (b.median > 1) filter(pulses, b.median);
  if (b.filter_frames > 1) smooth(pulses, b.filter_frames);
  return pulses;
}

void hide_overlapped(const std::vector<InputPulse>& throttle, std::vector<InputPulse>& steering) {
  std::erase_if(steering, [&](const InputPulse& s) {
    const auto t = std::partition_point(throttle.begin(), throttle.end(), [&](const InputPulse& x) { return x.fall_ns <= s.rise_ns; });
    return t != throttle.end() && t->rise_ns <= s.rise_ns;
  });
}

/// What is left when each channel is waited for in turn.
void read_in_turn(std::vector<InputPulse> (&inputs)[2]) {
  std::vector<InputPulse> seen[2];
  std::size_t at[2] = {};
  std::int64_t now = 0;
  for (int i = 0;; i ^= 1) {
    while (at[i] < inputs[i].size() && inputs[i][at[i]].rise_ns < now) ++at[i];
    if (at[i] == inputs[i].size()) break;
    seen[i].push_back(inputs[i][at[i]]);
    now = seen[i].back().fall_ns;
  }
  for (int i = 0; i < 2; ++i) inputs[i] = seen[i];
}

class Controller {
 public:
  Controller(const script::Timeline& timeline, const mixer::MixerSpec& spec, const script::ControllerDescription& controller,
             const Behaviour& b)
      : b_(b),
        spec_(with_faults(spec, b)),
        left_line_(controller.output(spec.left.name)->line_no),
        right_line_(controller.output(spec.right.name)->line_no) {
    inputs_[0] = read_input(timeline, controller.input(spec.throttle.name)->line_no, b, spikes_);
    inputs_[1] = read_input(timeline, controller.input(spec.steering.name)->line_no, b, spikes_);
    std::sort(spikes_.begin(), spikes_.end());
    if (b.hides_overlap) hide_overlapped(inputs_[0], inputs_[1]);
    if (b.blocking_read) read_in_turn(inputs_);
    if (!b.high_is_alive) return;
    for (const auto& e : timeline.edges)
      if (e.line == controller.input(spec.throttle.name)->line_no)
        edges_[0].push_back(e);
      else if (e.line == controller.input(spec.steering.name)->line_no)
        edges_[1].push_back(e);
  }

  void power(std::int64_t on, std::int64_t off, bool reset, std::vector<OutputEdge>& out) {
    armed_ = reset && b_.armed_over_reset && armed_;
    hung_ = stopped_ = false, neutral_since_ = last_ahead_ = -1, last_output_ = neutral();
    begin_ = on, stall_ns_ = 0, centre_off_[0] = centre_off_[1] = 0, centre_known_ = false;
    if (b_.dead) return;
    if (b_.runt_at_boot) put(out, left_line_, on + static_cast<std::int64_t>(3 * kNsPerMs), 16, off);
    const double scale = 1 - b_.clock_ppm / 1e6;
    for (int k = 0;; ++k) {
      if (saves(last_output_)) stall_ns_ += static_cast<std::int64_t>(45 * kNsPerMs);
      const auto frame = on + static_cast<std::int64_t>((b_.boot_ms + k * b_.frame_ms) * scale * kNsPerMs) + stall_ns_;
      if (frame >= off) return;
      auto widths = frame_at(frame);
      if (k < 5 && b_.first_pulses_us > 0) widths = {b_.first_pulses_us, b_.first_pulses_us};
      if (static_cast<double>(frame - on) < (b_.boot_ms + b_.boot_high_ms) * kNsPerMs && b_.boot_high_ms > 0) widths = {1900, 1900};
      if (b_.update_in_pulse) widths = restarted(widths, frame);
      sides_.push_back(widths.right_us);
      if (b_.right_late_frames > 0)
        widths.right_us = sides_[sides_.size() - std::min(sides_.size(), static_cast<std::size_t>(b_.right_late_frames) + 1)];
      if (b_.silent_on_loss && !armed_) continue;
      if (stays_high(out, frame)) continue;
      for (const auto& [line, us] : {std::pair{left_line_, widths.left_us}, std::pair{right_line_, widths.right_us}}) {
        const double noisy = us + b_.width_sigma_us * normal_(noise_) +
                             b_.width_noise_us * static_cast<double>(draw_.within(-1000, 1000)) / 1000 +
                             (++count_ % 97 == 0 ? b_.outlier_us : 0);
        put(out, line, frame, held_off(frame, noisy * scale), off);
      }
    }
  }

 private:
  static mixer::MixerSpec with_faults(mixer::MixerSpec s, const Behaviour& b) {
    if (b.mixes_by) s = *b.mixes_by;
    if (b.clip) s.law = mixer::Law::clip;
    if (b.law) s.law = *b.law;
    if (b.right_reversed) s.right.reversed = !s.right.reversed;
    if (b.steering_reversed) s.steering.reversed = !s.steering.reversed;
    if (b.flip_in_reverse) s.reverse_steering = mixer::ReverseSteering::car;
    if (b.no_dead_band) s.throttle.dead_band = s.steering.dead_band = mixer::DeadBandKind::none;
    if (b.right_high_us) s.right.high_us = s.right.clamp_high_us = *b.right_high_us;
    if (b.right_low_us) s.right.low_us = s.right.clamp_low_us = *b.right_low_us;
    return s;
  }

  mixer::Outputs neutral() const { return mixer::expected(spec_, spec_.throttle.centre_us, spec_.steering.centre_us); }

  const InputPulse* newest(int i, std::int64_t now) const {
    const auto& p = inputs_[i];
    const auto after = std::partition_point(p.begin(), p.end(), [&](const InputPulse& x) { return x.fall_ns <= now; });
    return after == p.begin() || (after - 1)->fall_ns < begin_ ? nullptr : &*(after - 1);
  }

  /// The outputs rise once when the link is lost, and fall when it is back.
  bool stays_high(std::vector<OutputEdge>& out, std::int64_t frame) {
    if (!b_.high_on_loss || (!lost_ && !left_high_)) return false;
    if (lost_ != left_high_)
      for (const std::uint8_t line : {left_line_, right_line_}) out.push_back({frame, line, lost_});
    left_high_ = lost_;
    return true;
  }

  /// Settings are saved once in each rest off centre.
  bool saves(const mixer::Outputs& y) {
    const bool rests = std::abs(y.left_us - neutral().left_us) > 50 && std::abs(y.left_us - rest_us_) < 10;
    if (!rests) rest_us_ = y.left_us, frames_at_rest_ = 0;
    return b_.save_after_ms > 0 && ++frames_at_rest_ == static_cast<int>(b_.save_after_ms / b_.frame_ms);
  }

  /// The width as this controller's program reads it.
  double read(int i, const InputPulse& p) {
    double us = p.width_us - centre_off_[i];
    if (b_.slip_every > 0 && ++reads_ % b_.slip_every == 0) us += 1000;
    const int count = static_cast<int>(us * 2), before = &p == inputs_[i].data() ? count : static_cast<int>((&p)[-1].width_us * 2);
    if (b_.torn_every > 0 && (count ^ before) >> 8 && ++reads_ % b_.torn_every == 0) us = ((before & ~0xFF) | (count & 0xFF)) / 2.0;
    return us;
  }

  void learn(const InputPulse& t, const InputPulse& s) {
    if (!b_.learns_centre || centre_known_) return;
    centre_known_ = true;
    const double off[2] = {t.width_us - spec_.throttle.centre_us, s.width_us - spec_.steering.centre_us};
    for (int i = 0; i < 2; ++i) centre_off_[i] = std::abs(off[i]) <= 100 ? off[i] : 0;
  }

  bool high(int i, std::int64_t now) const {
    const auto& e = edges_[i];
    const auto after = std::partition_point(e.begin(), e.end(), [&](const script::PlannedEdge& x) { return x.at.count <= now; });
    return after != e.begin() && (after - 1)->level;
  }

  bool alive(int i, const InputPulse* p, std::int64_t now) const {
    if (p && b_.high_is_alive && high(i, now)) return true;
    const double lost = b_.eager_loss ? 45 : b_.lost_ms;
    return p && static_cast<double>(now - p->fall_ns) < lost * kNsPerMs;
  }

  mixer::Outputs frame_at(std::int64_t frame) {
    const auto now = frame - static_cast<std::int64_t>(b_.delay_ms * kNsPerMs);
    const InputPulse* t = newest(0, now);
    const InputPulse* s = newest(1, now - static_cast<std::int64_t>(b_.steering_late_ms * kNsPerMs));
    if (b_.stalls_every > 0 && armed_ && ++frames_ % b_.stalls_every < 3) return last_output_;
    if (held_by_storm(frame)) return last_output_;
    if (b_.stops_at_s > 0 && !stopped_ && static_cast<double>(frame - begin_) > b_.stops_at_s * 1e9) stopped_ = true, armed_ = false;
    if (deaf(t, frame)) return last_output_;
    const bool there = alive(0, t, now) && (alive(1, s, now) || (b_.ignore_steering_loss && s)) && !(b_.lost_in_storm && in_storm(frame));
    lost_ = !there && t && s;
    if (!there) return when_lost(t, s, now);
    lost_since_ = now;
    learn(*t, *s);
    raced_ = false;
    if (++updates_ % b_.updates_every != 0) return last_output_;
    const InputPulse throttle{t->rise_ns, t->fall_ns, read(0, *t)}, steering{s->rise_ns, s->fall_ns, read(1, *s)};
    arm(throttle, steering, now);
    const auto& seen = inputs_[0];
    const auto since_power =
        std::count_if(seen.begin(), seen.end(), [&](const InputPulse& x) { return x.fall_ns >= begin_ && x.fall_ns <= now; });
    const bool driven = armed_ || since_power <= b_.obeys_first_frames;
    last_output_ = shifted(driven ? miscalculated(mixed(throttle.width_us, steering.width_us), now) : neutral());
    if (!armed_) sticks_[0].rest(), sticks_[1].rest();
    return last_output_;
  }

  mixer::Outputs mixed(double throttle_us, double steering_us) {
    const double t = sticks_[0].follow(throttle_us, b_.frame_ms / 1e3), s = sticks_[1].follow(steering_us, b_.frame_ms / 1e3);
    const auto us = mixer::outputs_within(spec_, {t, t}, {s, s});
    return {us.left.mid(), us.right.mid()};
  }

  mixer::Outputs when_lost(const InputPulse* t, const InputPulse* s, std::int64_t now) {
    sticks_[0].rest(), sticks_[1].rest();
    const bool kick = b_.kick_on_loss && armed_, was_armed = armed_;
    armed_ = false, neutral_since_ = -1;
    if (kick) return {2000, 2000};
    if (b_.hold_last && t) return last_output_;
    if (b_.timeout_is_zero && t && s && (was_armed || raced_)) {
      raced_ = true;
      return mixer::expected(spec_, alive(0, t, now) ? t->width_us : 0, alive(1, s, now) ? s->width_us : 0);
    }
    const mixer::Outputs safe = shifted(neutral());
    if (b_.lost_ramp_ms > 0) {
      const double share = std::max(0.0, 1 - static_cast<double>(now - lost_since_) / (b_.lost_ramp_ms * kNsPerMs));
      return {safe.left_us + share * (last_output_.left_us - safe.left_us),
              safe.right_us + share * (last_output_.right_us - safe.right_us)};
    }
    return t ? mixer::Outputs{safe.left_us + b_.lost_off_us, safe.right_us + b_.lost_off_us} : safe;
  }

  bool in_storm(std::int64_t frame) const {
    const auto next = std::upper_bound(spikes_.begin(), spikes_.end(), frame);
    return next != spikes_.begin() && static_cast<double>(frame - *(next - 1)) < kSpikesMatterMs * kNsPerMs;
  }

  bool held_by_storm(std::int64_t frame) {
    if (!b_.frozen_in_storm && !b_.hung_by_storm) return false;
    const bool storm = in_storm(frame);
    hung_ = hung_ || (storm && b_.hung_by_storm);
    return storm || hung_;
  }

  bool deaf(const InputPulse* last, std::int64_t frame) const {
    if (b_.deaf_from_s <= 0 || !last) return false;
    const double from = b_.deaf_from_s * 1e9 - static_cast<double>(last->fall_ns - begin_),
                 late = static_cast<double>(frame - last->fall_ns);
    return from > 0 && from < 250 * kNsPerMs && late > 100 * kNsPerMs;
  }

  /// Length of a pulse whose end must wait while interrupts are off, us.
  double held_off(std::int64_t rise, double us) const {
    if (b_.interrupts_off_every_ms <= 0) return us;
    const double end_ms = static_cast<double>(rise) / kNsPerMs + us / 1e3;
    const double into = std::fmod(end_ms, b_.interrupts_off_every_ms);
    return into < b_.interrupts_off_ms ? us + (b_.interrupts_off_ms - into) * 1e3 : us;
  }

  /// What the planted faults of sides and arithmetic make of the right answer.
  mixer::Outputs miscalculated(mixer::Outputs y, std::int64_t now) {
    const mixer::Outputs rest = neutral();
    if (b_.sides_swapped) std::swap(y.left_us, y.right_us);
    y.right_us = rest.right_us + b_.right_gain * (y.right_us - rest.right_us);
    const auto wrap = [&](double us, double middle) {
      if (b_.wrap_us <= 0 || std::abs(us - middle) < b_.wrap_us) return us;
      return us - std::copysign(2 * b_.wrap_us, us - middle);
    };
    y = {wrap(y.left_us, rest.left_us), wrap(y.right_us, rest.right_us)};
    if (y.left_us > rest.left_us + 60 && y.right_us > rest.right_us + 60) last_ahead_ = now;
    const bool resting = std::abs(y.left_us - rest.left_us) < 30 && std::abs(y.right_us - rest.right_us) < 30;
    if (resting && last_ahead_ >= 0 && static_cast<double>(now - last_ahead_) < b_.reverse_brake_ms * kNsPerMs)
      return {rest.left_us - 200, rest.right_us - 200};
    return y;
  }

  /// The newest stick positions that come inside the pulses that rise at `frame`, each counted from its own arrival.
  mixer::Outputs restarted(mixer::Outputs y, std::int64_t frame) const {
    const InputPulse* s = newest(1, frame);
    const InputPulse* t = newest(0, frame + static_cast<std::int64_t>(std::min(y.left_us, y.right_us) * kNsPerUs));
    if (!armed_ || !s || !t || t->fall_ns <= frame) return y;
    const auto to = shifted(mixer::expected(spec_, t->width_us, s->width_us));
    const double sent = static_cast<double>(t->fall_ns - frame) / kNsPerUs;
    if (to.left_us != y.left_us) y.left_us = sent + to.left_us;
    if (to.right_us != y.right_us) y.right_us = sent + to.right_us;
    return y;
  }

  void arm(const InputPulse& t, const InputPulse& s, std::int64_t now) {
    if (b_.never_arms) return;
    if (b_.no_arming) armed_ = true;
    if (armed_) return;
    const double half = spec_.arm.neutral_half_us;
    const bool rest = std::abs(t.width_us - spec_.throttle.centre_us) <= half && std::abs(s.width_us - spec_.steering.centre_us) <= half;
    if (!rest)
      neutral_since_ = -1;
    else if (neutral_since_ < 0)
      neutral_since_ = now;
    armed_ = rest && static_cast<double>(now - neutral_since_) >= b_.arm_ms * kNsPerMs;
  }

  mixer::Outputs shifted(mixer::Outputs y) const {
    const double off = b_.neutral_off_us + (armed_ ? b_.armed_off_us : 0);
    return {std::clamp(y.left_us + off, spec_.left.clamp_low_us, spec_.left.clamp_high_us),
            std::clamp(y.right_us + off, spec_.right.clamp_low_us, spec_.right.clamp_high_us)};
  }

  static void put(std::vector<OutputEdge>& out, std::uint8_t line, std::int64_t at, double us, std::int64_t off) {
    out.push_back({at, line, true});
    out.push_back({std::min(off, at + static_cast<std::int64_t>(us * kNsPerUs)), line, false});  // power off ends a pulse
  }

  const Behaviour& b_;
  mixer::MixerSpec spec_;
  std::uint8_t left_line_, right_line_;
  std::vector<InputPulse> inputs_[2];
  std::vector<std::int64_t> spikes_;
  script::Draw draw_{7};
  std::mt19937_64 noise_{b_.noise_seed};
  std::normal_distribution<double> normal_;
  std::int64_t begin_{0}, neutral_since_{-1}, last_ahead_{-1};
  bool armed_{false}, hung_{false}, stopped_{false};
  StickStages sticks_[2]{StickStages(spec_.throttle), StickStages(spec_.steering)};
  mixer::Outputs last_output_;
  int count_{0}, reads_{0}, frames_at_rest_{0};
  double rest_us_{0}, centre_off_[2]{};
  bool centre_known_{false}, lost_{false}, left_high_{false}, raced_{false};
  int updates_{0}, frames_{0};
  std::int64_t lost_since_{0};
  std::vector<script::PlannedEdge> edges_[2];
  std::int64_t stall_ns_{0};
  std::vector<double> sides_;  ///< right widths of all frames so far, us
};

/// Outputs beside left and right, from all inputs; without arming and loss. Widths of outputs that the spec does not have are left alone.
void play_more_outputs(const script::Timeline& timeline, const mixer::MixerSpec& spec, const script::ControllerDescription& controller,
                       const Behaviour& b, std::vector<OutputEdge>& out) {
  const auto ins = mixer::inputs(spec);
  const auto outs = mixer::outputs(spec);
  std::vector<std::vector<InputPulse>> inputs;
  std::vector<std::int64_t> spikes;
  for (const auto* in : ins) inputs.push_back(read_input(timeline, controller.input(in->name)->line_no, b, spikes));
  for (double ms = b.boot_ms; ms < static_cast<double>(timeline.length.count) / kNsPerMs; ms += b.frame_ms) {
    const auto frame = static_cast<std::int64_t>(ms * kNsPerMs);
    std::vector<double> widths;
    for (std::size_t i = 0; i < ins.size(); ++i) {
      const auto after = std::partition_point(inputs[i].begin(), inputs[i].end(), [&](const InputPulse& p) { return p.fall_ns <= frame; });
      widths.push_back(after == inputs[i].begin() ? ins[i]->centre_us : (after - 1)->width_us);
    }
    const auto us = mixer::expected_all(b.mixes_by ? *b.mixes_by : spec, widths);
    for (std::size_t o = 2; o < outs.size(); ++o) {
      const auto line = controller.output(outs[o]->name)->line_no;
      out.push_back({frame, line, true});
      out.push_back({frame + static_cast<std::int64_t>(us[o] * kNsPerUs), line, false});
    }
  }
}

}  // namespace

std::vector<OutputEdge> run_controller(const script::Timeline& timeline, const mixer::MixerSpec& spec,
                                       const script::ControllerDescription& controller, const Behaviour& behaviour) {
  std::vector<OutputEdge> out;
  Controller c(timeline, spec, controller, behaviour);
  std::int64_t on = 0;
  bool powered = true, reset = false;
  for (const auto& action : timeline.actions) {
    using script::ActionKind;
    const bool resets = action.kind == ActionKind::reset && !behaviour.ignores_reset;
    if (powered && (resets || action.kind == ActionKind::power_off)) c.power(on, action.at.count, reset, out);
    if (resets || action.kind == ActionKind::power_on) on = powered && !resets ? on : action.at.count;
    if (action.kind == ActionKind::power_off) powered = false;
    if (action.kind == ActionKind::power_on) powered = true;
    if (resets || action.kind == ActionKind::power_on) reset = resets;
    if (action.kind == ActionKind::port_open && powered && behaviour.port_resets) {
      c.power(on, action.at.count, reset, out);
      on = action.at.count + static_cast<std::int64_t>(1000 * kNsPerMs);
    }
  }
  if (powered) c.power(on, timeline.length.count, reset, out);
  if (!spec.more_outputs.empty()) play_more_outputs(timeline, spec, controller, behaviour, out);
  std::stable_sort(out.begin(), out.end(), [](const OutputEdge& a, const OutputEdge& b) { return a.at_ns < b.at_ns; });
  return out;
}

}  // namespace midstick::judge_test
